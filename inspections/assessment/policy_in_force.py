"""The policy in force: the keeper's values over the defaults, a design's or a depot's over the pool's."""

from ..choices import SETTINGS
from ..models import PolicyValue


class Policy:
    """All policy values, read once. `value("event_limit", design_id=3)` is the design's, else the pool's."""

    def __init__(self, rows):
        self._values = {(setting, design, depot): value for setting, design, depot, value in rows}

    def value(self, name, design_id=None, depot_id=None):
        for key in ((name, design_id, None), (name, None, depot_id)):
            if key != (name, None, None) and key in self._values:
                return self._typed(name, self._values[key])
        return self._typed(name, self._values.get((name, None, None), SETTINGS[name].default))

    def _typed(self, name, value):
        return int(value) if SETTINGS[name].whole else value

    def has_bench(self, depot_id):
        return bool(self.value("has_bench", depot_id=depot_id))


def current_policy():
    """The policy as stored now; one query."""
    return Policy(PolicyValue.objects.in_force().order_by().values_list("setting", "design_id", "depot_id", "value"))


def look_ahead_days():
    """How far ahead *change within look-ahead* reaches."""
    return current_policy().value("look_ahead_days")
