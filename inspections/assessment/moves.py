"""What the correction of values moves beyond their own cables: the trend of the pool rests on every one of them.

Asked about before it is saved where it is much. Nothing is asked when readings are entered: they are many, each moves
little, and what they move is their purpose.
"""

from collections import Counter
from dataclasses import dataclass
from functools import partial

import numpy as np

from fleet.services.confirmation import WantsConfirmation, WeighFirst, fingerprint_of, weighs_apart

from ..numeric.words import Status
from .pool_fits import clock, fit_trend, stored_fit
from .services import assess, changes_so_far
from .trend_records import fit_records
from .wear_state import read_wear_state

LONG_DAYS, FAR_DAYS = 30, 90
# In the demo pool a reading made void moves some of the far dates by a month, but seldom one in ten; a length given
# twice too long moves half of them. One cable that has to be treated in another way is much, however few dates move.
MUCH = 0.1


@dataclass(frozen=True)
class Moves:
    """How the dates by trend and the statuses of all other cables differ; `statuses`: {(from, to): cables}."""

    dates: int
    moved: int
    long: int
    far: int
    statuses: dict

    @property
    def are_much(self):
        return bool(self.statuses) or self.long > MUCH * self.dates

    @property
    def sentences(self):
        count, days = (self.far, FAR_DAYS) if self.far else (self.long, LONG_DAYS)
        by_more = f", {count} by more than {days} days" if count else ""
        dates = f"{self.moved} date{'s move' if self.moved != 1 else ' moves'}{by_more}."
        changes = [_change(count, *pair) for pair, count in self.statuses.items()]
        return [dates, *changes] if self.moved else changes


class MovesMuch(WantsConfirmation):
    """A correction from which much follows for other cables. `what`: the records that it changes; `seal`: answers for
    it as long as the pool is the same."""

    def __init__(self, moves, what, seal):
        message = (
            "The trend of the whole pool rests on this value. "
            "When it is next calculated, this correction changes other cables:"
        )
        super().__init__(message, "moves_much", [*what, *moves.sentences], points=moves.sentences)
        self.moves, self.seal = moves, seal

    @property
    def ways(self):
        """What was shown need not be worked out again to see that it was shown."""
        return {"": (f"{self.fingerprint} {self.seal}", self.tick)}

    def raise_unless(self, confirmed):
        if not {self.fingerprint, self.seal} & set(confirmed.split()):
            raise self


def on_correction(sender, segment_ids, on, **kwargs):
    return partial(_ask, segment_ids, _own_records(segment_ids, on), on)


def _ask(segment_ids, old, on, confirmed):
    new = _own_records(segment_ids, on)
    what = [f"{segment_ids}: {old.as_lists()}", f"{new.as_lists()}"]
    seal = fingerprint_of([*what, f"{changes_so_far()}"])
    if old.as_lists() == new.as_lists() or seal in confirmed.split():
        return
    if weighs_apart():
        raise WeighFirst(partial(_weigh, segment_ids, new, on, what, seal))
    _ask_if_much(what_moves(segment_ids, on, before=old), what, seal, confirmed)


def _weigh(segment_ids, new, on, what, seal, confirmed):
    """Where nothing is corrected yet: `seal`, unless much moves and nobody said that it is meant."""
    _ask_if_much(what_moves(segment_ids, on, after=new), what, seal, confirmed)
    return seal


def _ask_if_much(moves, what, seal, confirmed):
    if moves.are_much:
        MovesMuch(moves, what, seal).raise_unless(confirmed)


def _own_records(segment_ids, on):
    state = read_wear_state(on, segment_ids)
    return fit_records(state, clock(state.policy))


def what_moves(segment_ids, on, *, before=None, after=None):
    """Moves of all other cables from a fit with the records of these segments `before` to one with those `after`; None:
    those that are stored."""
    state = read_wear_state(on)
    records = fit_records(state, clock(state.policy))
    start = stored_fit()
    both = (records if own is None else records.with_those_of(segment_ids, own) for own in (before, after))
    before, after = (_assessed(state, each, start) for each in both)
    return _differences(before, after, ~np.isin(state.segment, segment_ids))


def _assessed(state, records, start):
    fitted, records = fit_trend(records, state.policy, start)
    return assess(state, fitted.model, records)


def _differences(before, after, others):
    was, now = (columns["trend_due_on"][others] for columns in (before, after))
    dated = ~(np.isnat(was) & np.isnat(now))
    # a date that comes or goes has moved farther than any
    days = np.where(np.isnat(was) | np.isnat(now), np.inf, np.abs((now - was).astype(float)))[dated]
    pairs = zip(before["urgency"][others].tolist(), after["urgency"][others].tolist(), strict=True)
    return Moves(
        dates=int(dated.sum()),
        moved=int((days > 0).sum()),
        long=int((days > LONG_DAYS).sum()),
        far=int((days > FAR_DAYS).sum()),
        statuses=dict(sorted(Counter(pair for pair in pairs if pair[0] != pair[1]).items())),
    )


def _change(count, was, now):
    was, now = (_shown(Status.of_order(urgency)) for urgency in (was, now))
    return f"{count} cable{'s go' if count != 1 else ' goes'} from {was} to {now}."


def _shown(status):
    return f"{status} an event" if status is Status.CHANGE_BEFORE else f"{status}"
