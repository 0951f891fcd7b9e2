"""Bench days: what the set-up of one day with one instrument added to all its readings."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.figures import short_day
from fleet.limits import DAY_PASSED
from fleet.models.fields import LineField
from fleet.models.trail import Recorded
from fleet.validators import REASON_LENGTH

from ..numeric.words import DayReads
from .measurements import Instrument

# a bench day is named beyond so many standard deviations
FAR_OFF = 3
# it reads high or low beyond so many of its own
TELLS_APART = 2
# a single reading cannot tell its day from its cable
ONE = 1


def bench_day_address(measured_on, instrument_id):
    """Of the page of a bench day; `instrument_id` None: the readings without one."""
    return reverse("inspections:bench-day", args=[measured_on, instrument_id or 0])


class BenchDayQuerySet(models.QuerySet):
    def newest_first(self):
        """Of one day by the instrument's name, readings without an instrument last."""
        return self.order_by("-measured_on", F("instrument__name").asc(nulls_last=True))


class BenchDay(models.Model):
    """The shift of one bench day, as estimated from its readings.

    Derived, so without history: each fit writes all rows afresh, and a reading of a day that is newer than the fit
    writes that day's. What people say of a bench day is no part of this row: `BenchDaySaid` keeps it.
    """

    measured_on = models.DateField()
    # none: the readings without an instrument
    instrument = models.ForeignKey(Instrument, models.CASCADE, null=True, related_name="bench_days")
    # by how much its readings lie above what the cables themselves lose, and the standard deviation of that; none where
    # there is no trend of the pool
    shift_db = models.FloatField(null=True)
    shift_sd_db = models.FloatField(null=True)
    # one a cable
    readings = models.PositiveIntegerField()
    # of reference pieces with an agreed value: what the last one of each tells is in the shift
    piece_readings = models.PositiveIntegerField(default=0)
    # False: newer than the fit
    in_fit = models.BooleanField(default=True)

    objects = BenchDayQuerySet.as_manager()

    class Meta:
        ordering = ["-measured_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["measured_on", "instrument"], name="one_bench_day_of_an_instrument"),
            models.UniqueConstraint(
                fields=["measured_on"], condition=Q(instrument=None), name="one_bench_day_without_an_instrument"
            ),
        ]

    @property
    def reads(self):
        """DayReads, as far as its readings tell."""
        if self.shift_db is None:
            return DayReads.NOT_KNOWN
        if self.tells_little:
            return DayReads.TOO_FEW
        if abs(self.shift_db) > TELLS_APART * self.shift_sd_db:
            return DayReads.HIGH if self.shift_db > 0 else DayReads.LOW
        return DayReads.USUAL

    @property
    def tells_little(self):
        """A single reading, and no reference piece beside it."""
        return self.readings <= ONE and not self.piece_readings

    def get_absolute_url(self):
        return bench_day_address(self.measured_on, self.instrument_id)

    def reads_far_off(self, bench_day_sd_db):
        """Far higher or lower than bench days of the pool do, of which the shifts have that standard deviation.

        Of a single reading nobody can say whether the bench was off or the cable is.
        """
        if self.shift_db is None or self.tells_little:
            return False
        # where bench days hardly differ a shift may be no more than its own uncertainty
        return abs(self.shift_db) > FAR_OFF * max(bench_day_sd_db, self.shift_sd_db)

    def __str__(self):
        return f"{short_day(self.measured_on)} {self.instrument or 'without an instrument'}"


class BenchDaySaid(Recorded):
    """What people said of a bench day: that they looked at what its reference piece showed, or that it is not to be
    trusted."""

    measured_on = models.DateField()
    # none: the readings without an instrument
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="said_of_days")
    looked_on = models.DateField(null=True, blank=True)
    # what was found then
    found = LineField(max_length=REASON_LENGTH, blank=True)
    not_trusted_reason = LineField(max_length=REASON_LENGTH, blank=True)
    # none beside a reason: not known when it was marked, so from the bench day itself on
    not_trusted_on = models.DateField(null=True, blank=True)

    limits = {"measured_on": DAY_PASSED, "looked_on": DAY_PASSED, "not_trusted_on": DAY_PASSED}

    class Meta:
        verbose_name = "word on a bench day"
        verbose_name_plural = "words on bench days"
        ordering = ["-measured_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["measured_on", "instrument"], name="said_once_of_a_bench_day"),
            models.UniqueConstraint(
                fields=["measured_on"], condition=Q(instrument=None), name="said_once_of_a_day_without_an_instrument"
            ),
            models.CheckConstraint(
                condition=Q(looked_on__isnull=True) | Q(looked_on__gte=F("measured_on")), name="looked_at_after_the_day"
            ),
            models.CheckConstraint(
                condition=Q(not_trusted_on__isnull=True) | Q(not_trusted_on__gte=F("measured_on")),
                name="not_trusted_after_the_day",
            ),
            models.CheckConstraint(
                condition=Q(not_trusted_on__isnull=True) | ~Q(not_trusted_reason=""), name="not_trusted_for_a_reason"
            ),
        ]

    def looked_on_by(self, on):
        """The day on which somebody looked at it; None: nobody had by then."""
        return self.looked_on if self.looked_on is not None and self.looked_on <= on else None

    def not_trusted_by(self, on):
        """Why it is not to be trusted, as was known by that day; "": nothing against it.

        Like a void reading, a day gives nothing from the marking on.
        """
        known = self.not_trusted_on is None or self.not_trusted_on <= on
        return self.not_trusted_reason if known else ""

    def get_absolute_url(self):
        return bench_day_address(self.measured_on, self.instrument_id)

    def __str__(self):
        return f"{short_day(self.measured_on)} {self.instrument or 'without an instrument'}"
