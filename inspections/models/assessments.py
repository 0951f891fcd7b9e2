"""What is due: one derived row per fitted segment, rewritten whenever something that matters changes."""

from math import sqrt

from django.db import models
from django.db.models import OuterRef, Q, Subquery

from fleet.choices import FaultPlace, FittedBasis
from fleet.figures import short_day
from fleet.models import CableSegment, Event, Mat
from fleet.models.fields import CodeField

from ..numeric.departures import DEPARTS_BEYOND
from ..numeric.words import DUE, Cause, EventsBasis, MeasureReason, NoDateReason, Status, TrendFrom, Verdict
from .column_insert import insert_columns
from .measurements import plain_choices
from .work_orders import WorkOrder, WorkOrderLine

# fewer cannot rise or fall: their line is that of similar cables
READINGS_OF_A_RISE = 2


class AssessmentQuerySet(models.QuerySet):
    def by_urgency(self):
        """Statuses in their order; *change now* with the broken first; by the event's day; by due date, none last."""
        return self.order_by("list_key")

    def of_status(self, *statuses):
        return self.filter(urgency__in=[status.order for status in statuses])

    def with_register(self):
        """What a row of the due list names beside the numbers."""
        return self.select_related("segment__cable_type", "mat__design", "mat__depot", "before_event")

    def with_open_order(self, on):
        """Adds `open_order`: the number of the order in force that a segment stands on; None without one."""
        lines = WorkOrderLine.objects.filter(segment=OuterRef("segment"), is_open=True)
        in_force = lines.filter(work_order__in=WorkOrder.objects.in_force(on))
        return self.annotate(open_order=Subquery(in_force.values("work_order__number")[:1]))

    def insert_columns(self, columns):
        """Insert rows given as arrays, see `column_insert`."""
        insert_columns(self.model, self.db, columns)

    def off_trend(self):
        """Readings that fall, or of which the newest departs: something is to be found out."""
        falls = Q(trend_no_date_reason=NoDateReason.FALLING, trend_readings__gte=READINGS_OF_A_RISE)
        departs = Q(trend_departure__gt=DEPARTS_BEYOND) | Q(trend_departure__lt=-DEPARTS_BEYOND)
        return self.filter(falls | departs)


def _choice(words, **kwargs):
    return models.CharField(max_length=30, choices=plain_choices(words), blank=True, **kwargs)


class Assessment(models.Model):
    """Derived, so without history. Dates are the first day on which the segment should not go out.

    No database constraint ties it to the register, and what is deleted there is out of it by then: with one, SQLite
    takes the rows out one by one whenever the pool is assessed afresh.
    """

    segment = models.OneToOneField(
        CableSegment, models.CASCADE, primary_key=True, db_constraint=False, related_name="assessment"
    )
    mat = models.ForeignKey(Mat, models.CASCADE, db_constraint=False, related_name="assessments")
    position = models.PositiveSmallIntegerField()
    assessed_on = models.DateField()

    urgency = models.PositiveSmallIntegerField(choices=[(status.order, status.value) for status in Status])
    due_on = models.DateField(null=True)
    cause = _choice(Cause)
    measure_reason = _choice(MeasureReason)
    before_event = models.ForeignKey(
        Event, models.SET_NULL, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    # urgency, gravity of what is reached, day of the wanting event, due day, length, mat number and position as one
    # text: the order of the due list, kept as a column so that its first page is read from an index whatever the size
    # of the pool
    list_key = CodeField(max_length=120, db_index=True)
    # the start of `before_event` where something is to be done before it
    wanted_on = models.DateField(null=True)

    # age and events are no causes for a cable that its own readings judge: what they would have said is kept
    age_applies = models.BooleanField(default=True)
    events_applies = models.BooleanField(default=True)
    age_due_on = models.DateField(null=True)
    age_basis = _choice(FittedBasis)
    # no limit: it is switched off
    age_limit_months = models.PositiveSmallIntegerField(null=True)
    event_count = models.PositiveIntegerField()
    event_limit = models.PositiveIntegerField(null=True)
    not_confirmed = models.PositiveIntegerField()
    # events of usual use that counted for nothing, because others of the same month are on record
    given_way = models.PositiveIntegerField(default=0)
    events_due_on = models.DateField(null=True)
    events_basis = _choice(EventsBasis)

    measured_on = models.DateField(null=True)
    loss_db = models.FloatField(null=True)
    reference_loss_db = models.FloatField(null=True)
    loss_uncertainty_db = models.FloatField(null=True)
    loss_limit_db = models.FloatField()
    verdict = _choice(Verdict)
    # a go/no-go tester said so: there is no number
    go_no_go = models.BooleanField(default=False)
    # the newest reading is within, not doubtful, and not older than *measure again after*
    measured_sound = models.BooleanField(default=False)
    loss_due_on = models.DateField(null=True)

    trend_due_on = models.DateField(null=True)
    trend_expected_on = models.DateField(null=True)
    # on `assessed_on`
    chance_over = models.FloatField(null=True)
    # the chance that the policy tolerates: `trend_due_on` is the day on which it is reached
    accepted_risk = models.FloatField(null=True)
    trend_from = _choice(TrendFrom)
    trend_no_date_reason = models.CharField(max_length=60, blank=True)
    trend_readings = models.PositiveIntegerField(default=0)
    # by how many standard deviations the newest reading departs from what all others say of it
    trend_departure = models.FloatField(null=True)
    # the day of its last reading in the fit; without one the level is that of the day when first fitted
    trend_level_on = models.DateField(null=True)
    # posterior on that day: the cable's own loss in dB, its rate in dB per year (or per event), and their covariance
    trend_level_db = models.FloatField(null=True)
    trend_rate_db = models.FloatField(null=True)
    trend_c00 = models.FloatField(null=True)
    trend_c01 = models.FloatField(null=True)
    trend_c11 = models.FloatField(null=True)

    damage_due_on = models.DateField(null=True)
    damage_place = _choice(FaultPlace)

    objects = AssessmentQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["urgency"], name="urgency_counts")]

    def __str__(self):
        return f"{self.segment_id}: {self.status}"

    @property
    def status(self):
        return Status.of_order(self.urgency)

    @property
    def is_due(self):
        """To be changed, now or by a day within the look-ahead."""
        return self.status in DUE

    @property
    def causes_that_apply(self):
        ruled_out = {Cause.AGE: not self.age_applies, Cause.EVENTS: not self.events_applies}
        return [cause for cause in Cause if not ruled_out.get(cause)]

    def has_reached(self, cause):
        """The cause applies and its day is not after the day assessed."""
        day = getattr(self, f"{cause}_due_on")
        return day is not None and day <= self.assessed_on and cause in self.causes_that_apply

    @property
    def gravity(self):
        """How grave its leading cause is, 1 the gravest; 0 where nothing has a date."""
        return Cause(self.cause).gravity if self.cause else 0

    @property
    def causes_reached(self):
        """Names of the causes reached, the gravest first, blanks between."""
        return " ".join(cause for cause in Cause if self.has_reached(cause))

    @property
    def to_measure(self):
        return self.status == Status.MEASURE

    @property
    def unfit_from(self):
        """The first day on which it should not go out: when it is due, unless a reading may tell otherwise; or None.

        Where only similar cables accuse it that is the first day of another cause. Where its own readings judge it and
        are too old there is none.
        """
        if not (self.to_measure and self.due_on):
            return self.due_on
        if self.from_similar:
            others = [getattr(self, f"{cause}_due_on") for cause in self.causes_that_apply if cause != Cause.TREND]
            return min(filter(None, others), default=None)
        judged = self.trend_from == TrendFrom.OWN and self.trend_no_date_reason in ("", NoDateReason.LATER)
        return None if judged and self.measure_reason == MeasureReason.LONG_AGO else self.due_on

    @property
    def due_by_trend(self):
        return self.cause == Cause.TREND and self.due_on == self.trend_due_on

    @property
    def from_similar(self):
        """Its line rests on similar cables alone."""
        return self.trend_from == TrendFrom.SIMILAR

    @property
    def falls(self):
        return self.trend_no_date_reason == NoDateReason.FALLING

    @property
    def departs(self):
        """The newest reading lies too far from what all others say of it; the date by trend stands."""
        return abs(self.trend_departure or 0) > DEPARTS_BEYOND

    @property
    def level_sd_db(self):
        """Standard deviation of `trend_level_db`."""
        return sqrt(max(self.trend_c00 or 0, 0))

    @property
    def rate_sd_db(self):
        """Standard deviation of `trend_rate_db`."""
        return sqrt(max(self.trend_c11 or 0, 0))

    @property
    def reads_a_rise(self):
        """It has readings enough to rise or fall by themselves."""
        return self.trend_readings >= READINGS_OF_A_RISE

    @property
    def no_signal(self):
        """The newest reading found no path through the cable."""
        return self.verdict == Verdict.OVER and self.loss_db is None and not self.go_no_go


class PoolTrend(models.Model):
    """The pool model last fitted, one row: everything needed to answer for a segment without fitting again."""

    fitted_at = models.DateTimeField(auto_now=True)
    fitted_on = models.DateField()
    # the pool's count of changes at the fit: more since then means that newer readings are not in it
    changes = models.PositiveBigIntegerField()
    model = models.JSONField()
    # readings that departed too far to be in it: [segment's key, ISO day, loss]
    left_out = models.JSONField(default=list, blank=True)

    def __str__(self):
        return f"Trend fitted on {short_day(self.fitted_on)}"


class PoolState(models.Model):
    """One row that counts the changes that matter, so that a long assessment knows when newer ones came."""

    changes = models.PositiveBigIntegerField(default=0)
    assessed_on = models.DateField(null=True)

    def __str__(self):
        return f"{self.changes} changes"
