"""Events, and which mats went to them."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from ..choices import UsageBasis, UsageState, Weather
from ..limits import COUNTS_FOR, EVENT_DAY, FOLD_CYCLES, HOURS_OUT
from ..validators import NAME_LENGTH, check_not_negative
from .codes import Coded, CodedQuerySet
from .fields import CodeField, CodeKeyField, LineField
from .mats import Mat
from .series import EventSeries
from .trail import Recorded


class EventQuerySet(CodedQuerySet):
    def find(self, text):
        return self.filter(Q(code__icontains=text) | Q(name__icontains=text))


class Event(Coded):
    code = CodeField("event", unique=True)
    code_key = CodeKeyField("code")
    name = LineField(max_length=NAME_LENGTH)
    starts_on = models.DateField()
    ends_on = models.DateField()
    place = LineField(max_length=NAME_LENGTH, blank=True)
    weather = models.CharField(max_length=10, choices=Weather.choices, blank=True)
    series = models.ForeignKey(EventSeries, models.PROTECT, null=True, blank=True, related_name="events")
    changed_alone = models.BooleanField(
        default=False, editable=False, help_text="Differs from its series: what is asked of the rest passes it by."
    )

    limits = {"starts_on": EVENT_DAY, "ends_on": EVENT_DAY}
    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_on", "code"]
        constraints = [models.CheckConstraint(condition=Q(ends_on__gte=F("starts_on")), name="event_ends_after_start")]
        indexes = [models.Index(fields=["starts_on"], name="event_start")]

    def __str__(self):
        return f"{self.code} {self.name}"

    def get_absolute_url(self):
        return reverse("fleet:event-detail", args=[self.code])

    def clean(self):
        if self.starts_on and self.ends_on and self.ends_on < self.starts_on:
            raise ValidationError({"ends_on": "The event ends before it starts."})


class UsageEventQuerySet(models.QuerySet):
    def counted(self, on):
        """What counts as wear by that day: went, and planned ones that are over and were not called off."""
        went = Q(state=UsageState.WENT)
        over = Q(state=UsageState.PLANNED, event__ends_on__lt=on)
        return self.filter(went | over, event__starts_on__lte=on)

    def not_confirmed(self, on):
        """Planned, over, and nobody has said yet whether the mat went."""
        return self.filter(state=UsageState.PLANNED, event__ends_on__lt=on)

    def used_from(self, day):
        """Planned or went, at events that start on that day or later."""
        return self.exclude(state=UsageState.CALLED_OFF).filter(event__starts_on__gte=day)

    def still_planned(self, on):
        """Planned and not over; one that has begun is still planned."""
        return self.filter(state=UsageState.PLANNED, event__ends_on__gte=on)


class UsageEvent(Recorded):
    event = models.ForeignKey(Event, models.PROTECT, related_name="usage_events")
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="usage_events")
    state = models.CharField(max_length=12, choices=UsageState.choices)
    counts_for = models.PositiveSmallIntegerField("counts for, events", default=1)
    basis = models.CharField(max_length=10, choices=UsageBasis.choices, default=UsageBasis.COUNTED)
    hours_out = models.FloatField("hours out", null=True, blank=True, validators=[check_not_negative])
    fold_cycles = models.PositiveSmallIntegerField("fold cycles", null=True, blank=True)
    shares_a_day = models.BooleanField(
        default=False, help_text="The keeper confirmed that the mat went to two events on one day."
    )

    limits = {"counts_for": COUNTS_FOR, "hours_out": HOURS_OUT, "fold_cycles": FOLD_CYCLES}
    objects = UsageEventQuerySet.as_manager()

    class Meta:
        ordering = ["-event__starts_on", "event__code", "mat__number"]
        constraints = [
            models.UniqueConstraint(fields=["event", "mat"], name="a_mat_once_at_an_event"),
            models.CheckConstraint(condition=Q(counts_for__gte=1), name="counts_for_at_least_one"),
        ]

    def __str__(self):
        return f"{self.mat} at {self.event}: {self.state}"


class MatDay(models.Model):
    """A day on which a usage event takes a mat; kept by the services that write usage events.

    The database refuses a second *planned* one on a day, whoever asks first.
    """

    mat = models.ForeignKey(Mat, models.PROTECT, related_name="days")
    day = models.DateField()
    usage_event = models.ForeignKey(UsageEvent, models.CASCADE, related_name="days")
    planned = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["mat", "day"], condition=Q(planned=True), name="a_mat_planned_once_a_day"),
            models.UniqueConstraint(fields=["usage_event", "day"], name="a_usage_event_takes_a_day_once"),
        ]
        indexes = [models.Index(fields=["mat", "day"], name="mat_day")]

    def __str__(self):
        return f"{self.mat} on {self.day:%Y-%m-%d}"
