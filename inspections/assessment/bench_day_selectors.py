"""What is known of bench days besides their readings: what reference pieces showed, and what people said of them.

One rule for all readings at once and for a single one: a day gives nothing from the day on on which it was marked *not
to be trusted*, and one whose piece lies beyond its limits gives no verdict until somebody looked at it.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import OuterRef, Q, Subquery

from ..models import AgreedValue, BenchDaySaid, ReferenceReading
from ..numeric.bench_day_keys import bench_day_key
from ..numeric.reference_pieces import PieceReadings, departure_sd_db, is_beyond
from .columns import columns, day, number, whole


@dataclass(frozen=True)
class PieceShown:
    """Arrays (readings,): what each piece read last on each bench day, which is what counts of that day.

    `value`: number of the AgreedValue of that day (0: none); `difference_db`: reading - agreed value, NaN where none is
    agreed; `repeatability_db` of the instrument, the usual one where that is not known; `value_sd_db` its uncertainty.
    """

    piece: np.ndarray
    day: np.ndarray
    value: np.ndarray
    difference_db: np.ndarray
    repeatability_db: np.ndarray
    value_sd_db: np.ndarray

    def take(self, chosen):
        return PieceShown(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    @property
    def sd_db(self):
        return departure_sd_db(self.repeatability_db, self.value_sd_db)

    @property
    def is_beyond(self):
        return is_beyond(self.difference_db, self.sd_db)

    def for_trend(self):
        """PieceReadings of those with an agreed value."""
        known = self.take(~np.isnan(self.difference_db))
        repeatability_db = departure_sd_db(known.repeatability_db, 0.0)
        return PieceReadings(known.value, known.day, known.difference_db, repeatability_db, known.value_sd_db)


@dataclass(frozen=True)
class BenchDays:
    """`not_trusted`, `held`: keys of bench days; `pieces`: what counts of the pieces on all other days."""

    not_trusted: np.ndarray
    held: np.ndarray
    pieces: PieceShown


@dataclass(frozen=True)
class Withheld:
    """Why a reading of a bench day has no verdict: the `not_trusted` reason, or "": nobody looked at its piece yet."""

    not_trusted: str = ""


def read_bench_days(on):
    """BenchDays by that day: two queries, whatever is on record."""
    said = BenchDaySaid.objects.filter(measured_on__lte=on).order_by()
    said = list(said.only("measured_on", "instrument", "looked_on", "not_trusted_reason", "not_trusted_on"))
    not_trusted = _keys([(row.measured_on, row.instrument_id) for row in said if row.not_trusted_by(on)])
    looked_at = _keys([(row.measured_on, row.instrument_id) for row in said if row.looked_on_by(on)])
    shown = read_pieces(on)
    shown = shown.take(~np.isin(shown.day, not_trusted))
    beyond = np.unique(shown.day[shown.is_beyond])
    held = beyond[~np.isin(beyond, looked_at)]
    # a slip of the keyboard would move every date: until somebody looked, the cables of that day speak alone
    return BenchDays(not_trusted, held, shown.take(~np.isin(shown.day, held)))


def read_pieces(on):
    """PieceShown by that day."""
    value = AgreedValue.objects.filter(piece=OuterRef("piece"), agreed_on__lte=OuterRef("measured_on"))
    newest = value.order_by("-agreed_on")
    read = columns(
        ReferenceReading.objects.filter(measured_on__lte=on).annotate(
            value=Subquery(newest.values("pk")[:1]),
            agreed_db=Subquery(newest.values("agreed_loss_db")[:1]),
            value_sd_db=Subquery(newest.values("uncertainty_db")[:1]),
        ),
        piece=whole("piece"),
        day=day("measured_on"),
        instrument=whole("instrument"),
        repeat=whole("repeat"),
        loss_db=number("loss_db"),
        value=whole("value"),
        agreed_db=number("agreed_db"),
        value_sd_db=number("value_sd_db"),
        repeatability_db=number("instrument__repeatability_db"),
    )
    key = bench_day_key(read["day"], read["instrument"])
    shown = PieceShown(
        piece=read["piece"],
        day=key,
        value=read["value"],
        difference_db=read["loss_db"] - read["agreed_db"],
        repeatability_db=read["repeatability_db"],
        value_sd_db=read["value_sd_db"],
    )
    order = np.lexsort((read["repeat"], read["piece"], key))
    last = np.append((np.diff(key[order]) != 0) | (np.diff(read["piece"][order]) != 0), True)[: len(order)]
    return shown.take(order[last])


def withheld_on(on, days):
    """{(day, instrument's key or None): Withheld} of those of these bench days that give no verdict by `on`."""
    days = set(days)
    if not days:
        return {}
    known = read_bench_days(on)
    found = {day: Withheld() for day in days if int(_keys([day])[0]) in set(known.held.tolist())}
    if len(known.not_trusted):
        for said in BenchDaySaid.objects.filter(_one_of(days)):
            day, reason = (said.measured_on, said.instrument_id), said.not_trusted_by(on)
            if day in days and reason:
                found[day] = Withheld(reason)
    return found


def _one_of(days):
    return Q(measured_on__gte=min(day for day, _ in days), measured_on__lte=max(day for day, _ in days))


def _keys(days: list[tuple[date, int | None]]):
    dates, instruments = [day for day, _ in days], [instrument or 0 for _, instrument in days]
    return bench_day_key(np.array(dates, "datetime64[D]"), np.array(instruments, np.int64))
