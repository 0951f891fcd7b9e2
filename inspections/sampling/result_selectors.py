"""What a sample found: mat by mat while it is measured, then shares with their exact intervals."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from fleet.models import Fitting

from ..models import Sample, SampledMat
from ..numeric.sampling import clopper_pearson
from ..numeric.stratified_counts import stratified_interval
from ..numeric.words import Verdict
from .reading_selectors import days_read, limits_by_design

CONFIDENCE = 0.95


@dataclass(frozen=True)
class CableFound:
    """One cable of a sampled mat as it was at the draw: `known`, see `SampledMat.cables`.

    `verdict`: of its first day that counts, '' before. `gone`: taken out before it was read. `suspect`: verdict of what
    was read because somebody suspected it, which counts in no share. `instrument`: key of what read it, 0: not known.
    """

    known: dict
    verdict: str
    gone: bool
    suspect: str
    instrument: int = 0

    @property
    def is_read(self):
        return self.verdict != ""


@dataclass(frozen=True)
class MatFound:
    """One mat of a sample. It counts once all its cables are read that were not taken out before.

    `last_day`: the last one of which readings count.
    """

    sampled: SampledMat
    cables: list[CableFound]
    last_day: date

    @property
    def to_read(self):
        return [cable for cable in self.cables if not cable.gone]

    @property
    def read(self):
        return [cable for cable in self.cables if cable.is_read]

    @property
    def is_done(self):
        return bool(self.to_read) and len(self.read) == len(self.to_read)

    @property
    def withdrawn_on(self):
        """The day on which it left service before it was measured whole, if it did."""
        day = self.sampled.mat.withdrawn_on
        return day if day and day <= self.last_day and not self.is_done else None

    @property
    def has_over(self):
        return any(cable.verdict == Verdict.OVER for cable in self.cables)

    @property
    def verdict(self):
        """The worst of its cables; '' before all are read."""
        words = [cable.verdict for cable in self.read] if self.is_done else []
        return next((word for word in (Verdict.OVER, Verdict.UNDECIDED, Verdict.WITHIN) if word in words), "")

    def at(self, verdict):
        """The positions of its cables of that verdict."""
        return [cable.known["position"] for cable in self.cables if cable.verdict == verdict]


@dataclass(frozen=True)
class Share:
    """Of `size` read, `over` are over and `undecided` may be."""

    over: int
    undecided: int
    size: int

    @classmethod
    def of(cls, verdicts):
        counts = Counter(verdicts)
        return cls(counts[Verdict.OVER], counts[Verdict.UNDECIDED], counts.total() - counts[""])

    @property
    def most_over(self):
        return self.over + self.undecided

    @property
    def interval(self):
        """(low, high): exact, of a share in any number however large (Clopper and Pearson)."""
        return clopper_pearson(self.over, self.size, CONFIDENCE, self.most_over)


@dataclass(frozen=True)
class SampleFound:
    sample: Sample
    mats: list[MatFound] = field(default_factory=list)

    @property
    def cables(self):
        return [cable for mat in self.mats for cable in mat.cables]

    @property
    def done(self):
        return [mat for mat in self.mats if mat.is_done]

    @property
    def withdrawn(self):
        """Mats that left service before they were measured whole: nobody waits for them."""
        return [mat for mat in self.mats if mat.withdrawn_on]

    @property
    def to_measure(self):
        """How many of its mats can be measured whole, or are."""
        return len(self.mats) - len(self.withdrawn)

    @property
    def not_done_with_over(self):
        """Mats that do not count yet, though a cable of them is over: they would count if only these were counted."""
        return [mat for mat in self.mats if mat.has_over and not mat.is_done]

    @property
    def of_mats(self):
        return Share.of([mat.verdict for mat in self.mats])

    @cached_property
    def number_in_pool(self):
        """(low, high): how many of the mats drawn from have a cable over: exact, by age as they were drawn."""
        there = Counter(stratum for _, stratum in self.sample.frame["mats"])
        verdicts = {stratum: [] for stratum in there}
        for mat in self.mats:
            verdicts[mat.sampled.stratum].append(mat.verdict)
        shares = [Share.of(verdicts[stratum]) for stratum in there]
        over, size, most = zip(*((share.over, share.size, share.most_over) for share in shares), strict=True)
        return stratified_interval(over, size, list(there.values()), CONFIDENCE, most)

    @property
    def of_cables(self):
        return Share.of([cable.verdict for mat in self.done for cable in mat.cables])

    @property
    def by_length(self):
        """[(whole metres, Share)] of cables from so many metres up to one more, the shortest first."""
        lengths = {}
        for cable in (cable for mat in self.done for cable in mat.read):
            lengths.setdefault(int(cable.known["length_m"]), []).append(cable.verdict)
        return [(metres, Share.of(verdicts)) for metres, verdicts in sorted(lengths.items())]

    @property
    def instruments(self):
        """Keys of the instruments that the shares rest on."""
        return {cable.instrument for mat in self.done for cable in mat.read} - {0}

    @property
    def suspect(self):
        """Share of cables that were read because somebody suspected them: beside, and in no other share."""
        return Share.of([cable.suspect for cable in self.cables])

    @property
    def gone(self):
        return [cable for cable in self.cables if cable.gone]


def found_by(samples, on):
    """A SampleFound for each of the samples, in their order; as many queries for one as for ten."""
    samples = list(samples)
    counted, suspect = days_read(samples, on)
    sampled = list(SampledMat.objects.filter(sample__in=samples).select_related("mat"))
    limits = limits_by_design(row.mat.design_id for row in sampled)
    left = _taken_out(samples)
    by_sample = {sample.pk: [] for sample in samples}
    own = {sample.pk: sample for sample in samples}
    for row in sampled:
        row.sample = own[row.sample_id]
        span = row.sample.drawn_on, row.sample.last_day(on)
        mat = _mat_found(row, span, limits[row.mat.design_id], counted, suspect, left)
        by_sample[row.sample_id].append(mat)
    return [SampleFound(sample, by_sample[sample.pk]) for sample in samples]


def _mat_found(row, span, limit_db, counted, suspect, left):
    verdicts, instruments = _read(row, span, limit_db, counted)
    suspected, _ = _read(row, span, limit_db, suspect)
    cables = []
    for known, verdict, other, instrument in zip(row.cables, verdicts, suspected, instruments, strict=True):
        out_on = left.get((row.mat_id, known["segment"]))
        gone = verdict == "" and out_on is not None and out_on <= span[1]
        cables.append(CableFound(known, verdict, gone, other, instrument))
    return MatFound(row, cables, span[1])


def _read(row, span, limit_db, days):
    """(verdicts, instruments) of its cables, each of the first day in the span."""
    rows = [days.first_within(known["segment"], *span) for known in row.cables]
    return days.verdicts(rows, [limit_db] * len(rows)), days.instruments(rows)


def _taken_out(samples):
    """{(mat's key, segment's key): the day on which it was last taken out there}; without what is there still."""
    fittings = Fitting.objects.filter(mat__sampled__sample__in=samples).order_by("fitted_on")
    rows = {(mat, segment): day for mat, segment, day in fittings.values_list("mat", "segment", "removed_on")}
    return {place: day for place, day in rows.items() if day is not None}
