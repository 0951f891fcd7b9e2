"""Reference pieces: what was agreed of them, what they read, and how far that is off."""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.shortcuts import get_object_or_404

from fleet.models import Depot

from ...models import AgreedValue, BenchDaySaid, Instrument, ReferencePiece, ReferenceReading
from ...models.bench_days import bench_day_address
from ...numeric.reference_pieces import (
    ACTION_SDS,
    USUAL_REPEATABILITY_DB,
    WARNING_SDS,
    departure_sd_db,
    is_beyond,
    proposed_value,
)


@dataclass(frozen=True)
class PieceRead:
    """One reading of a piece. `value`: the AgreedValue of its day (None: none then); `counts`: the last one of its
    bench day; `looked_on`: the day on which somebody looked at that bench day; `not_trusted`: why it is not trusted."""

    reading: ReferenceReading
    value: AgreedValue | None
    counts: bool
    looked_on: date | None = None
    not_trusted: str = ""

    @property
    def difference_db(self):
        """Reading - agreed value; None where none is agreed."""
        known = self.value is not None and self.value.agreed_loss_db is not None
        return self.reading.loss_db - self.value.agreed_loss_db if known else None

    @property
    def sd_db(self):
        """Standard deviation of the difference; None where no value is agreed."""
        return None if self.difference_db is None else sd_of_departure(self.reading.instrument, self.value)

    @property
    def warning_db(self):
        return None if self.sd_db is None else WARNING_SDS * self.sd_db

    @property
    def limit_db(self):
        """The action limit, beyond which the bench is to be looked at."""
        return None if self.sd_db is None else ACTION_SDS * self.sd_db

    @property
    def is_beyond(self):
        return self.difference_db is not None and bool(is_beyond(self.difference_db, self.sd_db))

    @property
    def stops(self):
        """Nobody may go on before the bench was looked at."""
        return self.is_beyond and self.counts and self.looked_on is None and not self.not_trusted

    @property
    def bench_day_url(self):
        return bench_day_address(self.reading.measured_on, self.reading.instrument_id)


@dataclass(frozen=True)
class ShownPiece:
    """A piece as lists and the bench show it: its newest value, and its readings, the oldest first."""

    piece: ReferencePiece
    values: tuple[AgreedValue, ...]
    readings: tuple[PieceRead, ...]

    @property
    def value(self):
        return self.values[-1] if self.values else None

    @property
    def is_agreed(self):
        return self.value is not None and self.value.agreed_loss_db is not None

    @property
    def last(self):
        return self.readings[-1] if self.readings else None


def sd_of_departure(instrument, value):
    return float(departure_sd_db(_repeatability_db(instrument), value.uncertainty_db))


def all_pieces():
    """Withdrawn ones too."""
    return ReferencePiece.objects.select_related("depot")


def is_piece_kept(on):
    """At one bench at least."""
    return ReferencePiece.objects.in_use(on).exists()


def depots_to_choose():
    return Depot.objects.order_by("name")


def get_piece_or_404(name):
    return get_object_or_404(all_pieces(), name=name)


def get_value_or_404(pk):
    return get_object_or_404(AgreedValue.objects.select_related("piece"), pk=pk)


def get_piece_reading_or_404(pk):
    return get_object_or_404(ReferenceReading.objects.select_related("piece", "instrument"), pk=pk)


def instruments_to_choose(on):
    """Those in use that show a number."""
    return Instrument.objects.in_use(on).exclude(kind="go/no-go")


def shown_pieces(pieces, on):
    """ShownPieces with all readings made by `on`; as many queries for one as for many."""
    pieces = list(pieces)
    values, readings = _values_of(pieces), _readings_of(pieces, on)
    said = _said_of(readings)
    by_key = {piece.pk: piece for piece in pieces}
    for row in (*readings, *(value for of_piece in values.values() for value in of_piece)):
        # they name their piece
        row.piece = by_key[row.piece_id]
    return [
        ShownPiece(piece, tuple(values[piece.pk]), tuple(_reads(readings, piece, values[piece.pk], said, on)))
        for piece in pieces
    ]


def pieces_to_read(on, measured_on, instrument_id, depot_id=None):
    """[(ShownPiece, the PieceReads of that bench day)] of the pieces in use; of one depot those that belong there.

    Empty where nobody keeps a piece.
    """
    here = ReferencePiece.objects.in_use(on).select_related("depot")
    if depot_id is not None:
        here = here.filter(Q(depot=None) | Q(depot=depot_id))
    return [
        (piece, tuple(read for read in piece.readings if _is_of(read, measured_on, instrument_id)))
        for piece in shown_pieces(here, on)
    ]


def pieces_of_bench_day(measured_on, instrument, on):
    """ShownPieces that were read on that bench day."""
    read = ReferenceReading.objects.filter(measured_on=measured_on, instrument=instrument)
    return shown_pieces(all_pieces().filter(pk__in=read.values("piece")), on)


def proposal(piece, on):
    """ProposedValue of all readings since the last agreed value, that of its day included; None from too few."""
    since = [read for read in piece.readings if _is_since(read, piece) and not read.not_trusted]
    repeatability = [_repeatability_db(read.reading.instrument) for read in since]
    days = [read.reading.measured_on.toordinal() for read in since]
    losses = [read.reading.loss_db for read in since]
    return proposed_value(days, losses, max(repeatability, default=USUAL_REPEATABILITY_DB))


def _is_since(read, piece):
    return not piece.is_agreed or read.reading.measured_on >= piece.value.agreed_on


def _repeatability_db(instrument):
    known = instrument.repeatability_db if instrument else None
    return USUAL_REPEATABILITY_DB if known is None else known


def _is_of(read, measured_on, instrument_id):
    return (read.reading.measured_on, read.reading.instrument_id) == (measured_on, instrument_id)


def _values_of(pieces):
    values = {piece.pk: [] for piece in pieces}
    for value in AgreedValue.objects.filter(piece__in=pieces).order_by("agreed_on"):
        values[value.piece_id].append(value)
    return values


def _readings_of(pieces, on):
    readings = ReferenceReading.objects.filter(piece__in=pieces, measured_on__lte=on)
    return list(readings.select_related("instrument", "recorded_by").order_by("measured_on", "repeat"))


def _said_of(readings):
    """{(day, instrument's key): BenchDaySaid} of the bench days of these readings."""
    days = {reading.measured_on for reading in readings}
    said = BenchDaySaid.objects.filter(measured_on__in=days) if days else ()
    return {(row.measured_on, row.instrument_id): row for row in said}


def _reads(readings, piece, values, said, on):
    own = [reading for reading in readings if reading.piece_id == piece.pk]
    last = {(reading.measured_on, reading.instrument_id): reading for reading in own}
    agreed = [value.agreed_on for value in values]
    for reading in own:
        day = reading.measured_on, reading.instrument_id
        at, of_day = bisect_right(agreed, reading.measured_on), said.get(day)
        yield PieceRead(
            reading=reading,
            value=values[at - 1] if at else None,
            counts=last[day] is reading,
            looked_on=of_day.looked_on_by(on) if of_day else None,
            not_trusted=of_day.not_trusted_by(on) if of_day else "",
        )
