"""A batch with its cables, each with what it is good for: worked out from what was typed, nothing of it is stored."""

from dataclasses import dataclass
from functools import cached_property, partial
from itertools import groupby
from math import inf, nan

from django.db.models import Sum
from django.shortcuts import get_object_or_404

from fleet.models import CableType, Depot, StockEntry

from ..assessment.bench_day_selectors import Withheld, withheld_on
from ..assessment.policy_in_force import current_policy
from ..bench.fresh_selectors import FreshLoss, fresh_losses, judged_as_new
from ..bench.verdicts import Criteria, Judgement, criteria_of
from ..models import Batch, BatchValue
from ..numeric.batches import OwnRange, answer, losses_in_short, own_range, unlike
from ..numeric.words import BatchAnswer


@dataclass(frozen=True)
class ReadValue:
    """One value with what it means against the limit; `most_of_fresh_db`: NaN where that is not known."""

    value: BatchValue
    judgement: Judgement
    most_of_fresh_db: float

    @property
    def loss_db(self):
        """Reference loss in dB, NaN without."""
        return nan if self.judgement.reference_loss_db is None else self.judgement.reference_loss_db


@dataclass(frozen=True)
class BatchCable:
    """One cable of a batch: its readings that stand, newest first, its answer, and what it is Unlike.

    `struck`: values that do not count; a cable of which all are struck has no answer.
    """

    number: int
    reads: tuple[ReadValue, ...]
    struck: tuple[BatchValue, ...]
    answer: str = ""
    unlike: str = ""

    @property
    def newest(self):
        return self.reads[0] if self.reads else None

    @property
    def before(self):
        return self.reads[1:]

    @property
    def serial(self):
        """That of a value that stands: one that was struck may be another cable's by now."""
        return next((read.value.serial for read in self.reads if read.value.serial), "")

    @property
    def segment(self):
        return next((value.segment for value in self._values if value.segment_id), None)

    @property
    def _values(self):
        return [*(read.value for read in self.reads), *self.struck]


@dataclass(frozen=True)
class BatchPage:
    """A batch, newest cable first, with what it was judged by."""

    batch: Batch
    cables: list[BatchCable]
    criteria: Criteria
    fresh: FreshLoss | None
    own: OwnRange
    # why its bench day gives no verdict
    withheld: Withheld | None = None

    def kept(self):
        """What an ended batch keeps of this, as JSON: see `Batch.judged`."""
        criteria, fresh = self.criteria, self.fresh
        return {
            "limit_db": criteria.limit_db,
            "uncertainty_db": criteria.uncertainty_db,
            "reference_mhz": criteria.reference_mhz,
            "fresh": None if fresh is None else [fresh.expected_db, fresh.ones],
            "answers": {cable.number: [cable.answer, cable.unlike] for cable in self.cables},
        }

    def count(self, wanted):
        return sum(cable.answer == wanted for cable in self.cables)

    @property
    def fit(self):
        return self.count(BatchAnswer.FIT)

    @property
    def unfit(self):
        return self.count(BatchAnswer.NOT)

    @property
    def again(self):
        return self.count(BatchAnswer.AGAIN)

    @property
    def judged(self):
        """Cables that have an answer."""
        return [cable for cable in self.cables if cable.answer]

    @property
    def going_on_shelf(self):
        return [cable for cable in self.cables[::-1] if cable.answer == BatchAnswer.FIT and cable.serial]

    @property
    def without_serial(self):
        return sum(cable.answer == BatchAnswer.FIT and not cable.serial for cable in self.cables)

    @cached_property
    def losses(self):
        return losses_in_short([cable.newest.loss_db for cable in self.judged])

    @property
    def most_of_fresh_db(self):
        """Up to what a fresh one reads by this batch's instrument and method; None: not known."""
        known = [read.most_of_fresh_db for cable in self.cables for read in cable.reads if read.most_of_fresh_db < inf]
        return known[0] if known else None

    @property
    def uncertainty_db(self):
        known = [read.judgement.uncertainty_db for cable in self.cables for read in cable.reads]
        return known[0] if known else None

    @property
    def last(self):
        """The cable that was read last; None before the first."""
        return max(self.judged, key=lambda cable: cable.newest.value.pk, default=None)

    def cable(self, number):
        return next((cable for cable in self.cables if cable.number == number), None)


@dataclass(frozen=True)
class LotCounts:
    """Cables of one kind and lot, over all their batches."""

    cable_type: CableType
    length_m: float
    lot: str
    holds: str
    pages: list[BatchPage]

    @property
    def fit(self):
        return sum(page.fit for page in self.pages)

    @property
    def unfit(self):
        return sum(page.unfit for page in self.pages)

    @property
    def again(self):
        return sum(page.again for page in self.pages)

    @cached_property
    def losses(self):
        return losses_in_short([cable.newest.loss_db for page in self.pages for cable in page.judged])


def get_batch_or_404(number):
    return get_object_or_404(Batch.objects.with_register(), number=number)


def counted_there(batch):
    """How many cables like those of the batch, of its lot or of none that is named, are counted without a serial."""
    same = StockEntry.objects.without_serial().of_kind(batch.cable_type, batch.length_m)
    if batch.lot:
        same = same.filter(lot__in=[batch.lot, ""])
    return same.aggregate(there=Sum("change"))["there"] or 0


def batch_page(batch, on):
    return pages_of([batch], on)[0]


def pages_of(batches, on):
    """A BatchPage each; as many queries for one as for many."""
    batches = list(batches)
    criteria = criteria_of(current_policy())
    fresh = fresh_losses([_kind(batch) for batch in batches if batch.is_new], criteria, on)
    values = (
        BatchValue.objects.filter(batch__in=batches).select_related("segment").order_by("batch_id", "cable", "attempt")
    )
    by_key = {batch.pk: batch for batch in batches}
    for value in (values := list(values)):
        # they name their batch
        value.batch = by_key[value.batch_id]
    by_batch = {key: list(rows) for key, rows in groupby(values, key=lambda value: value.batch_id)}
    withheld = withheld_on(on, {_bench_day(batch) for batch in batches})
    return [
        _page(batch, by_batch.get(batch.pk, []), criteria, fresh.get(_kind(batch)), withheld.get(_bench_day(batch)))
        for batch in batches
    ]


def lots_of(pages):
    """LotCounts of these pages, in the order of their newest batch."""
    lots = {}
    for page in pages:
        batch = page.batch
        lots.setdefault((batch.cable_type, batch.length_m, batch.lot, batch.holds), []).append(page)
    return [LotCounts(*key, pages) for key, pages in lots.items()]


def offered(on):
    """{field of the form: rows that can be chosen}."""
    return {"cable_type": CableType.objects.in_use(on), "depot": Depot.objects.in_use(on)}


def _kind(batch):
    return batch.cable_type, batch.length_m


def _bench_day(batch):
    return batch.measured_on, batch.instrument_id


def _page(batch, values, criteria, fresh, withheld):
    fresh = fresh if batch.is_new else None
    if batch.judged:
        criteria, fresh = _as_kept(batch.judged)
    read = partial(_read, batch, criteria=criteria, fresh=fresh, withheld=None if batch.judged else withheld)
    by_cable = [_reads(list(rows), read) for _, rows in groupby(values, key=lambda row: row.cable)]
    own = own_range([reads[0].loss_db for _, reads, _ in by_cable if reads]) if batch.is_new else OwnRange()
    kept = batch.judged.get("answers", {})
    cables = [_cable(number, reads, struck, own, kept.get(str(number))) for number, reads, struck in by_cable]
    return BatchPage(batch, cables[::-1], criteria, fresh, own, None if batch.judged else withheld)


def _as_kept(judged):
    criteria = Criteria(*(judged[name] for name in ("limit_db", "uncertainty_db", "reference_mhz")))
    return criteria, judged["fresh"] and FreshLoss(*judged["fresh"])


def _reads(values, read):
    standing = [read(value) for value in values[::-1] if value.struck_on is None]
    return values[0].cable, standing, [value for value in values if value.struck_on is not None]


def _read(batch, value, *, criteria, fresh, withheld):
    """`withheld`: why the bench day of the batch gives no verdict (Withheld), or None."""
    judgement = criteria.judge(value.loss, batch.frequency_mhz, batch.temperature_c, batch.instrument, batch.method)
    most_db = judged_as_new(judgement, fresh).most_db if fresh else None
    return ReadValue(value, judgement.withheld_for(withheld), inf if most_db is None else most_db)


def _cable(number, reads, struck, own, kept=None):
    """`kept`: what an ended batch keeps as its answer."""
    if kept or not reads:
        return BatchCable(number, tuple(reads), tuple(struck), *(kept or ()))
    unlikes = [unlike(read.loss_db, read.most_of_fresh_db, own) for read in reads]
    said = answer(reads[0].judgement.verdict, unlikes[0], any(unlikes[1:]))
    return BatchCable(number, tuple(reads), tuple(struck), str(said), str(unlikes[0]))


def batches_listed():
    return Batch.objects.with_register()


def get_value_or_404(number, pk):
    return get_object_or_404(BatchValue.objects.select_related("batch", "segment"), batch__number=number, pk=pk)
