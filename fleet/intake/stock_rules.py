"""The ledger of the shelf against itself, and against what the other files and the pool say of each cable."""

from dataclasses import dataclass, field

from django.db.models import Max, Sum

from ..choices import StockReason
from ..models import StockEntry
from ..models.mats import mat_name
from ..models.stock import kind_length
from .files import FITTINGS, SEGMENTS, STOCK


def check_stock(files):
    """Entries go on from those that are stored, no more goes than lies there, and a cable is where the register says.

    A row gets how many of the same lie there after it.
    """
    table = files.table(STOCK.file)
    if table is None:
        return
    _refuse_unfit(files, table)
    _refuse_earlier_numbers(files, table)
    ledger = _Ledger.stored()
    for row in sorted(_new_rows(table), key=lambda row: row.number):
        ledger.add(files, table, row)
    if files.can_follow(SEGMENTS.file, FITTINGS.file):
        _refuse_what_the_register_denies(files, table, ledger)


@dataclass(frozen=True)
class _Row:
    row: int
    number: int
    depot: str | None
    cable_type: str
    length_m: float
    change: int
    segment: str | None
    lot: str

    @property
    def same(self):
        """What it is counted with."""
        return self.segment or (self.cable_type, self.length_m, self.depot, self.lot)


def _new_rows(table):
    names = ("entry", "depot", "cable_type", "length_m", "change", "segment", "lot")
    return [_Row(*values) for values in table.rows(*names, where=table.new)]


def _refuse_unfit(files, table):
    """What a row may say by itself."""
    for row, length_m in list(table.rows("length_m")):
        if kind_length(length_m) != length_m:
            table.refuse(files.errors, row, "length_m", f"“{length_m!r}”", f"at most three decimals: {length_m:.3f}")
    for row, change, segment, reason, note in list(table.rows("change", "segment", "reason", "note")):
        if change == 0 or (segment and abs(change) != 1):
            expected = "1 or -1: it is one cable" if segment else "a number other than 0"
            table.refuse(files.errors, row, "change", f"“{change}”", expected)
        elif (reason == StockReason.RECEIVED and change < 0) or (reason == StockReason.SCRAPPED and change > 0):
            sign = "above" if change < 0 else "below"
            table.refuse(files.errors, row, "change", f"“{change}” for {reason}", f"a number {sign} 0")
        if reason == StockReason.COUNTED and not note:
            table.refuse(files.errors, row, "note", "an empty cell", "why the count differs: counted needs a reason")


def _refuse_earlier_numbers(files, table):
    last = StockEntry.objects.aggregate(last=Max("number"))["last"] or 0
    for row, number in list(table.rows("entry", where=table.new)):
        if number <= last:
            expected = f"a number above {last}, the last entry stored: the ledger is only added to"
            table.refuse(files.errors, row, "entry", f"“{number}”", expected)


@dataclass
class _Ledger:
    """How many of the same lie there, as the entries go by; `last`: the row that told of a cable last."""

    left: dict
    last: dict = field(default_factory=dict)

    @classmethod
    def stored(cls):
        piles = StockEntry.objects.without_serial().counts("cable_type__name", "length_m", "depot__name", "lot")
        cables = StockEntry.objects.exclude(segment=None).order_by().values_list("segment__serial")
        left = {tuple(pile): lie_there for *pile, lie_there in piles}
        return cls(left | dict(cables.annotate(lie_there=Sum("change"))))

    def add(self, files, table, row):
        left = self.left.get(row.same, 0) + row.change
        if left < 0 or (row.segment and left > 1):
            there = "it there already" if left > 1 else f"{left - row.change} of them there"
            expected = "a change of what lies there at most: entries count in order of their numbers"
            table.refuse(files.errors, row.row, "change", f"“{row.change}” with {there}", expected)
            return
        self.left[row.same] = left
        table.marks.setdefault(row.row, {})["left"] = left
        if row.segment:
            self.last[row.segment] = row.row


def _refuse_what_the_register_denies(files, table, ledger):
    places = _open_places(files)
    withdrawn = files.known(SEGMENTS.file, "withdrawn_on")
    for segment, row in ledger.last.items():
        if withdrawn.get(segment):
            where = f"withdrawn on {withdrawn[segment]}"
        elif segment in places:
            where = "in {} position {}".format(*places[segment])
        else:
            where = "on the shelf: in use, and in no mat"
        if bool(ledger.left[segment]) != where.startswith("on the shelf"):
            lies = "on the shelf" if ledger.left[segment] else "not on the shelf"
            expected = f"an entry that leaves it where the register has it: {where}"
            table.refuse(files.errors, row, "change", f"{segment} {lies} after this entry", expected)


def _open_places(files):
    """{segment: (mat, position)} of those that are in a mat."""
    fittings = files.known(FITTINGS.file, "mat", "position", "removed_on")
    return {
        segment: (mat_name(mat), position)
        for (segment, _), (mat, position, removed_on) in fittings.items()
        if removed_on is None
    }
