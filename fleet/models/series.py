"""Events that come back: every week, or every few weeks, until a day."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from ..limits import DAYS_LONG, EVENT_DAY, WEEKS_APART
from ..validators import NAME_LENGTH
from .codes import Coded
from .fields import CodeField, CodeKeyField, LineField


def starts_of_repeats(first, until, every_weeks):
    """The first day and every n-th week after it, up to and including `until`; on the weekday of the first."""
    return [first + timedelta(weeks=number) for number in range(0, (until - first).days // 7 + 1, every_weeks)]


class EventSeries(Coded):
    """The rule by which its events were made. They are events like any other: each may be changed by itself.

    Pages call it by its name; its code tells it from another of that name in files.
    """

    code = CodeField("series", unique=True)
    code_key = CodeKeyField("code")
    name = LineField(max_length=NAME_LENGTH)
    starts_on = models.DateField("first day")
    until = models.DateField()
    every_weeks = models.PositiveSmallIntegerField("every, weeks", default=1)
    length_days = models.PositiveSmallIntegerField("length, days", default=1)

    limits = {
        "starts_on": EVENT_DAY,
        "until": EVENT_DAY,
        "every_weeks": WEEKS_APART,
        "length_days": DAYS_LONG,
    }

    class Meta:
        ordering = ["-starts_on", "name"]
        verbose_name_plural = "event series"
        constraints = [
            models.CheckConstraint(condition=Q(until__gte=F("starts_on")), name="series_ends_after_start"),
            models.CheckConstraint(condition=Q(every_weeks__gte=1, length_days__gte=1), name="series_moves_on"),
        ]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("fleet:series-detail", args=[self.pk])

    def starts(self):
        return starts_of_repeats(self.starts_on, self.until, self.every_weeks)

    def clean(self):
        if self.starts_on and self.until and self.until < self.starts_on:
            raise ValidationError({"until": "The last day lies before the first."})
        if self.every_weeks and self.length_days and self.length_days > 7 * self.every_weeks:
            raise ValidationError(
                {"every_weeks": "It would still be running when the next one begins. Make it shorter."}
            )
