"""The policy in force: the keeper's values over the defaults, the narrowest first."""

from ..choices import SETTINGS
from ..models import PolicyValue


class Policy:
    """All policy values, read once. `value("event_limit", design_id=3)` is the design's, else the pool's."""

    def __init__(self, rows):
        self._values = {tuple(place): value for *place, value in rows}

    def value(self, name, design_id=None, depot_id=None, position=None):
        """Of a position of a design, else of the design; or of a depot; else of the pool, else the default. None: what
        nobody has said, and has no default."""
        of_design = [(design_id, position, None), (design_id, None, None)] if design_id is not None else []
        of_depot = [(None, None, depot_id)] if depot_id is not None else []
        places = [*of_design, *of_depot, (None, None, None)]
        found = (self._values[(name, *place)] for place in places if (name, *place) in self._values)
        value = next(found, SETTINGS[name].default)
        return int(value) if SETTINGS[name].whole else value

    def all_values(self, name):
        """The values of a setting that stand anywhere: the pool's, and those of designs, positions and depots."""
        return {self.value(name)} | {value for (setting, *_), value in self._values.items() if setting == name}

    def has_own(self, name, depot_id):
        """Whether the depot has a value of its own."""
        return depot_id is not None and (name, None, None, depot_id) in self._values

    def is_set(self, name, depot_id=None):
        """Whether a keeper said it of the depot or of the pool."""
        return self.has_own(name, depot_id) or (name, None, None, None) in self._values

    def with_values(self, changed):
        """Another policy: (name, design_id, position, depot_id) has that value; None: the wider one stands there."""
        values = self._values | changed
        return Policy((*place, value) for place, value in values.items() if value is not None)

    def has_bench(self, depot_id):
        return bool(self.value("has_bench", depot_id=depot_id))


def current_policy():
    """The policy as stored now; one query."""
    rows = PolicyValue.objects.in_force().order_by()
    return Policy(rows.values_list("setting", "design_id", "position", "depot_id", "value"))


def look_ahead_days():
    """How far ahead *change within look-ahead* reaches."""
    return current_policy().value("look_ahead_days")
