"""Which instruments a reference piece links: two that never read the same one are unlinked, so that an offset between
them cannot be told from what their cables lose."""

from dataclasses import dataclass

import numpy as np
from django.db.models import Exists, OuterRef

from ...assessment.bench_day_selectors import read_bench_days
from ...models import Instrument, Measurement
from ...numeric.bench_day_keys import instrument_of_key
from ...numeric.words import WITHOUT_LOSS


@dataclass(frozen=True)
class Unlinked:
    """Groups of instruments (each a tuple, by name): linked within a group, not between two."""

    groups: tuple[tuple[Instrument, ...], ...]

    @property
    def names(self):
        """Of each group, in words."""
        return [" with ".join(each.name for each in group) for group in self.groups]

    def among(self, instrument_ids):
        """The Unlinked of these instruments alone; None where all of them are linked."""
        ids = set(instrument_ids)
        kept = [tuple(each for each in group if each.pk in ids) for group in self.groups]
        kept = tuple(group for group in kept if group)
        return Unlinked(kept) if len(kept) > 1 else None


def unlinked_instruments(on):
    """Unlinked of the instruments with a reading that can count for the trend by `on`; None where all are linked, or
    where there is one alone. Three queries."""
    counting = Measurement.objects.valid_on(on).filter(instrument=OuterRef("pk"), loss_db__isnull=False)
    counting = counting.exclude(method__in=WITHOUT_LOSS)
    instruments = list(Instrument.objects.filter(Exists(counting)).order_by("name"))
    groups = _components({each.pk for each in instruments}, _read_by(on))
    by_group = [tuple(each for each in instruments if each.pk in group) for group in groups]
    found = tuple(sorted((group for group in by_group if group), key=lambda group: group[0].name))
    return Unlinked(found) if len(found) > 1 else None


def _read_by(on):
    """{piece: keys of the instruments that read it on days that count, with a value agreed by then}."""
    by_piece, pieces = {}, read_bench_days(on).pieces
    known = ~np.isnan(pieces.difference_db)
    instruments = instrument_of_key(pieces.day[known]).tolist()
    for piece, instrument in set(zip(pieces.piece[known].tolist(), instruments, strict=True)):
        by_piece.setdefault(piece, set()).add(instrument)
    return {piece: readers - {0} for piece, readers in by_piece.items()}


def _components(keys, by_piece):
    """Sets of keys, joined wherever a piece was read by some of each."""
    groups = [{key} for key in keys]
    for readers in by_piece.values():
        joined = [group for group in groups if group & readers]
        apart = [group for group in groups if not group & readers]
        groups = [*apart, set().union(readers, *joined)]
    return groups
