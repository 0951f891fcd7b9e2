"""The ledger of the shelf: what came there, what went, and why. It is only added to."""

from dataclasses import dataclass

from django.db import models
from django.db.models import Q, Sum

from ..choices import StockReason
from ..figures import two_places
from ..limits import CABLE_LENGTH, DAY_PASSED, SHELF_CHANGE
from ..validators import REASON_LENGTH, check_positive
from .fields import LineField
from .mats import Depot
from .segments import CableSegment, CableType
from .trail import Recorded

LOT_LENGTH = 60
ORDER_LENGTH = 60
# lengths are typed with two or three decimals; kinds of cable are told apart by as many
LENGTH_DECIMALS = 3


def kind_length(length_m):
    """The length by which cables of one kind are known, in m."""
    return round(length_m, LENGTH_DECIMALS)


def kind_of(cable_type, length_m):
    """What makes two cables one kind, on the shelf and to order: the type, or its name, with `kind_length`."""
    return cable_type, kind_length(length_m)


@dataclass(frozen=True)
class Pile:
    """Cables without a serial that lie in one place, each as good as the other; `depot` None: nobody said where."""

    cable_type: CableType
    length_m: float
    depot: Depot | None = None
    lot: str = ""

    def __str__(self):
        lot = f", lot {self.lot}" if self.lot else ""
        return f"{two_places(self.length_m)} m of {self.cable_type}{lot}, {self.where}"

    @property
    def where(self):
        return f"at {self.depot}" if self.depot else "where nobody said"

    def entry(self, change, **values):
        """An entry on this pile, not stored yet."""
        pile = {"cable_type": self.cable_type, "length_m": kind_length(self.length_m)}
        return StockEntry(**pile, depot=self.depot, lot=self.lot, change=change, **values)


class StockEntryQuerySet(models.QuerySet):
    def without_serial(self):
        """Of cables that are counted, each as good as the other."""
        return self.filter(segment=None)

    def of_pile(self, pile):
        return self.without_serial().of_kind(pile.cable_type, pile.length_m).filter(depot=pile.depot, lot=pile.lot)

    def of_kind(self, cable_type, length_m):
        return self.filter(cable_type=cable_type, length_m=kind_length(length_m))

    def counts(self, *by):
        """(value, …, how many lie there) for each different set of these values of which some do, in their order."""
        sums = self.order_by().values_list(*by).annotate(lie_there=Sum("change"))
        return sums.exclude(lie_there=0).order_by(*by)

    def with_names(self):
        """What every list of entries names."""
        return self.select_related("cable_type", "depot", "segment", "recorded_by")


class StockEntry(Recorded):
    """One change of what lies on the shelf: cables without a serial that are counted, or the one cable `segment`.

    A cable with a serial is on the shelf where the register says so; the ledger follows it, in the same transaction.
    `left`: how many of the same lie there afterwards; of a segment 1 or 0. The same: cable type, length, depot, lot.
    """

    number = models.PositiveIntegerField("entry", unique=True)
    day = models.DateField()
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="stock_entries")
    cable_type = models.ForeignKey(CableType, models.PROTECT, related_name="stock_entries")
    length_m = models.FloatField("length in m", validators=[check_positive])
    change = models.IntegerField()
    left = models.PositiveIntegerField()
    segment = models.ForeignKey(CableSegment, models.PROTECT, null=True, blank=True, related_name="stock_entries")
    lot = LineField(max_length=LOT_LENGTH, blank=True)
    reason = models.CharField(max_length=10, choices=StockReason.choices)
    # the number of the work order by which a cable was fitted or came back
    work_order = LineField(max_length=ORDER_LENGTH, blank=True)
    note = LineField(max_length=REASON_LENGTH, blank=True)

    limits = {"day": DAY_PASSED, "length_m": CABLE_LENGTH, "change": SHELF_CHANGE}
    objects = StockEntryQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        verbose_name = "entry of the shelf"
        verbose_name_plural = "entries of the shelf"
        indexes = [models.Index(fields=["cable_type", "length_m"], name="stock_of_a_kind")]
        constraints = [
            models.CheckConstraint(condition=~Q(change=0), name="an_entry_changes_the_shelf"),
            models.CheckConstraint(condition=Q(length_m__gt=0), name="stock_length_above_zero"),
            models.CheckConstraint(
                condition=Q(segment=None) | Q(change=1, left=1) | Q(change=-1, left=0),
                name="a_cable_is_on_the_shelf_or_not",
            ),
            models.CheckConstraint(
                condition=~Q(reason=StockReason.RECEIVED) | Q(change__gt=0), name="what_is_received_comes"
            ),
            models.CheckConstraint(
                condition=~Q(reason=StockReason.SCRAPPED) | Q(change__lt=0), name="what_is_scrapped_goes"
            ),
            models.CheckConstraint(
                condition=~Q(reason=StockReason.COUNTED) | ~Q(note=""), name="a_difference_has_a_reason"
            ),
        ]

    def __str__(self):
        return f"{self.number}: {self.change:+d} of {two_places(self.length_m)} m {self.cable_type}, {self.reason}"

    def save(self, *args, **kwargs):
        """An entry that was wrong is put right by another one."""
        assert self._state.adding, "the ledger is only added to"
        return super().save(*args, **kwargs)
