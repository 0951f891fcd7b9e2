"""What the policy would take of limits by length: for the whole pool or for one design, all or only some of them."""

from dataclasses import dataclass
from hashlib import blake2b

from ..choices import LIMIT_NAME, SETTINGS
from ..models import PolicyValue
from ..policy.selectors import is_same
from ..policy.services import PolicyChange
from .services import PositionLimit

# which of them
ALL, FIRST, LATER = "", "first", "later"


@dataclass(frozen=True)
class Proposed:
    """What a position would have, in years or events; `own`: the PolicyValue of the position that holds now, or
    None."""

    row: PositionLimit
    value: float
    own: PolicyValue | None
    change: PolicyChange

    @property
    def comes_first(self):
        """It is shorter than today's."""
        return not self.row.today or self.value < self.row.today


def proposed_of(page, *, design="", which=ALL, further=0.0):
    """[Proposed] of PoolLimits where the policy would be other than it is; `design`: the code of one, "" for all."""
    name = LIMIT_NAME[page.clock]
    values = PolicyValue.objects.in_force().filter(setting=name).exclude(position=None)
    own = {(value.design_id, value.position): value for value in values}
    rows = [row for row in page.rows if design in ("", row.design.code)]
    found = [_proposed(row, page.proposal(row, further), own.get((row.design.pk, row.position)), name) for row in rows]
    return [each for each in found if each and which in (ALL, FIRST if each.comes_first else LATER)]


def mark_of(proposed):
    """Stands for what is proposed, and for the values that it would take the place of."""
    told = [(each.change.design.pk, each.change.position, each.value, each.change.seen_row) for each in proposed]
    told += [each.change.seen_version for each in proposed]
    return blake2b(repr(told).encode(), digest_size=8).hexdigest()


def _proposed(row, value, own, name):
    if value is None or is_same(SETTINGS[name], value, row.today):
        return None
    seen = (own.version, own.pk) if own else (0, None)
    return Proposed(row, value, own, PolicyChange(name, value, row.design, None, *seen, position=row.position))
