"""Events, and which mats went to them."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Exists, ExpressionWrapper, F, OuterRef, Q
from django.db.models.functions import TruncMonth
from django.urls import reverse

from ..choices import UsageBasis, UsageState, Weather
from ..figures import short_day
from ..limits import COUNTS_FOR, DAY_PASSED, EVENT_DAY, FOLD_CYCLES, HOURS_OUT
from ..validators import NAME_LENGTH, check_not_negative
from .codes import Coded, CodedQuerySet
from .fields import CodeField, CodeKeyField, LineField
from .mats import Mat
from .series import EventSeries
from .trail import Recorded

# events that nobody held: they stand for the use of a month
USUAL_USE = "Usual use"
REST_OF_MONTH = "Other events of the month, as reported"
# after its event, a mat of which nobody said that it came home is asked about for so long
ASKED_ABOUT = timedelta(days=14)


class EventQuerySet(CodedQuerySet):
    def find(self, text):
        return self.filter(Q(code__icontains=text) | Q(name__icontains=text))

    def that_people_held(self):
        """Without those that only stand for the use of a month: usual use, and what was said beside logged events."""
        rows = UsageEvent.objects.filter(event=OuterRef("pk"))
        only_usual = Exists(rows.usual()) & ~Exists(rows.exclude(basis=UsageBasis.USUAL))
        return self.exclude(name=REST_OF_MONTH).exclude(only_usual)


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
    def taken_place(self, on):
        """By that day: went, and planned ones that are over and were not called off."""
        went = Q(state=UsageState.WENT)
        over = Q(state=UsageState.PLANNED, event__ends_on__lt=on)
        return self.filter(went | over, event__starts_on__lte=on)

    def counted(self, on):
        """What counts as wear by that day: what has taken place, without usual use that gives way."""
        return self.with_month().taken_place(on).exclude(_other_use_of_the_month(on))

    def given_way(self, on):
        """Usual use that counts for nothing, because other events of its mat in that month count."""
        return self.with_month().taken_place(on).filter(_other_use_of_the_month(on))

    def with_gives_way(self, on):
        """Adds `gives_way`: whether it is usual use that counts for nothing."""
        gives_way = Q(state=UsageState.WENT) & _other_use_of_the_month(on)
        return self.with_month().annotate(gives_way=ExpressionWrapper(gives_way, models.BooleanField()))

    def usual(self):
        return self.filter(basis=UsageBasis.USUAL)

    def taken_along(self):
        """Planned or went, to an event that somebody held."""
        return self.exclude(state=UsageState.CALLED_OFF).exclude(basis=UsageBasis.USUAL)

    def of_month(self, day):
        """At events that start in the calendar month of that day."""
        return self.filter(event__starts_on__year=day.year, event__starts_on__month=day.month)

    def with_month(self):
        """`month`, to filter by: the first day of that in which its event starts."""
        return self.alias(month=TruncMonth("event__starts_on"))

    def not_confirmed(self, on):
        """Planned, over, and nobody has said yet whether the mat went."""
        return self.filter(state=UsageState.PLANNED, event__ends_on__lt=on)

    def used_from(self, day):
        """Planned or went, at events that start on that day or later."""
        return self.exclude(state=UsageState.CALLED_OFF).filter(event__starts_on__gte=day)

    def still_planned(self, on):
        """Planned and not over; one that has begun is still planned."""
        return self.filter(state=UsageState.PLANNED, event__ends_on__gte=on)

    def left(self, on):
        """Of mats that left home by that day: planned or went, at events that people held and that have begun."""
        held = self.exclude(state=UsageState.CALLED_OFF).exclude(basis=UsageBasis.USUAL)
        return held.exclude(event__name=REST_OF_MONTH).filter(event__starts_on__lte=on)

    def awaited(self, on):
        """Of mats that left, of which nobody said that they came home, and that did not leave again since."""
        since = Q(event__starts_on__gt=OuterRef("event__ends_on")) | Q(home_on__gte=OuterRef("event__ends_on"))
        later = UsageEvent.objects.left(on).filter(since, mat=OuterRef("mat")).exclude(pk=OuterRef("pk"))
        return self.left(on).filter(~Exists(later), home_on=None)

    def out(self, on):
        """Of mats that are out: until somebody says that they came home, or the last day has passed."""
        return self.awaited(on).filter(event__ends_on__gte=on)

    def should_be_back(self, on):
        """Of mats that count as home since their event is over, and of which nobody said so."""
        return self.away(on).filter(event__ends_on__lt=on)

    def away(self, on):
        """Of mats that are out, and of those that should be back."""
        since = on - min(ASKED_ABOUT, on - on.min)
        return self.awaited(on).filter(event__ends_on__gte=since)


def _other_use_of_the_month(on):
    """Of usual use: true where another usage event of the mat that counts starts in its month.

    `numeric.usage_counts.gives_way` says the same of arrays.
    """
    others = UsageEvent.objects.exclude(basis=UsageBasis.USUAL).taken_place(on).with_month()
    return Q(basis=UsageBasis.USUAL) & Exists(others.filter(mat=OuterRef("mat"), month=OuterRef("month")))


class UsageEvent(Recorded):
    event = models.ForeignKey(Event, models.PROTECT, related_name="usage_events")
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="usage_events")
    state = models.CharField(max_length=12, choices=UsageState.choices)
    counts_for = models.PositiveSmallIntegerField("counts for, events", default=1)
    basis = models.CharField(max_length=10, choices=UsageBasis.choices, default=UsageBasis.COUNTED)
    hours_out = models.FloatField("hours out", null=True, blank=True, validators=[check_not_negative])
    fold_cycles = models.PositiveSmallIntegerField("fold cycles", null=True, blank=True)
    home_on = models.DateField("came home on", null=True, blank=True)
    shares_a_day = models.BooleanField(
        default=False, help_text="The keeper confirmed that the mat went to two events on one day."
    )

    limits = {"home_on": DAY_PASSED, "counts_for": COUNTS_FOR, "hours_out": HOURS_OUT, "fold_cycles": FOLD_CYCLES}
    objects = UsageEventQuerySet.as_manager()

    class Meta:
        ordering = ["-event__starts_on", "event__code", "mat__number"]
        constraints = [
            models.UniqueConstraint(fields=["event", "mat"], name="a_mat_once_at_an_event"),
            models.CheckConstraint(condition=Q(counts_for__gte=1), name="counts_for_at_least_one"),
            models.CheckConstraint(
                condition=~Q(basis=UsageBasis.USUAL, state=UsageState.PLANNED), name="usual_use_is_never_planned"
            ),
            models.CheckConstraint(
                condition=Q(home_on__isnull=True) | ~Q(state=UsageState.CALLED_OFF),
                name="what_stayed_at_home_does_not_come_home",
            ),
        ]

    def __str__(self):
        return f"{self.mat} at {self.event}: {self.state}"


class MatDay(models.Model):
    """A day on which a usage event takes a mat; kept by the services that write usage events. Usual use takes none.

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
        return f"{self.mat} on {short_day(self.day)}"
