"""The policy as it is looked at and edited: each setting with the values that override it, and the trail of changes."""

from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import attrgetter

from django.shortcuts import get_object_or_404

from fleet.models import Depot, MatDesign
from fleet.selectors.trail import Change, Entry

from ..choices import SETTINGS
from ..models import AssessmentRun, PolicyValue
from ..numeric.words import Clock

# what yes and no mean where they are not called so
WORDS = {"wear_by_events": (Clock.YEARS, Clock.EVENTS)}


@dataclass(frozen=True)
class Slot:
    """One place where a value may stand: a setting of the pool, of a design or of a depot; `row` None: not set."""

    setting: object
    design: MatDesign | None
    depot: Depot | None
    row: PolicyValue | None
    in_force: float

    @property
    def key(self):
        owner = f"design-{self.design.pk}" if self.design else f"depot-{self.depot.pk}" if self.depot else "pool"
        return f"{owner}.{self.setting.name}"

    @property
    def of_pool(self):
        return self.design is None and self.depot is None

    @property
    def shown(self):
        return shown(self.setting, self.in_force)

    @property
    def default(self):
        return shown(self.setting, self.setting.default)

    @property
    def unit(self):
        """What stands behind the number that is typed."""
        return "%" if is_share(self.setting) else self.setting.unit


@dataclass(frozen=True)
class PolicyPage:
    """Slots by owner: of the pool; of each design and each depot (name to slots)."""

    pool: list[Slot]
    designs: list[tuple[MatDesign, list[Slot]]]
    depots: list[tuple[Depot, list[Slot]]]

    @property
    def slots(self):
        return [*self.pool, *(slot for _, slots in [*self.designs, *self.depots] for slot in slots)]


def policy_page(on):
    """Designs and depots in use, and those withdrawn that still have a value of their own; three queries."""
    rows = {(row.setting, row.design_id, row.depot_id): row for row in PolicyValue.objects.in_force()}
    pool = [_slot(s, None, None, rows) for s in SETTINGS.values() if s.per_pool]
    designs, depots = _owners(MatDesign, on, {d for _, d, _ in rows}), _owners(Depot, on, {d for _, _, d in rows})
    return PolicyPage(
        pool=pool,
        designs=[(d, [_slot(s, d, None, rows) for s in SETTINGS.values() if s.per_design]) for d in designs],
        depots=[(d, [_slot(s, None, d, rows) for s in SETTINGS.values() if s.per_depot]) for d in depots],
    )


def shown(setting, value):
    """A value in words: shares in per cent, yes and no, whole numbers without a point."""
    if setting.yes_no:
        return WORDS.get(setting.name, ("no", "yes"))[int(value)]
    if is_share(setting):
        return f"{value * 100:.10g} %"
    return f"{value:.10g} {setting.unit.removesuffix('s') if value == 1 else setting.unit}"


def is_share(setting):
    return not setting.unit and not setting.yes_no


def policy_trail():
    """Every change of policy, newest first: what it was before, also where that was the default."""
    rows = PolicyValue.objects.known().select_related("design", "depot", "recorded_by").order_by("pk")
    states = PolicyValue.history.select_related("history_user").order_by("id", "history_id")
    history = {pk: list(of_row) for pk, of_row in groupby(states, key=attrgetter("id"))}
    entries = [entry for row in rows for entry in _entries(row, history.get(row.pk, []))]
    return sorted(entries, key=attrgetter("when"), reverse=True)


def get_run_or_404(pk):
    return get_object_or_404(AssessmentRun, pk=pk)


def _owners(model, on, with_value):
    in_use = set(model.objects.in_use(on).values_list("pk", flat=True))
    return [owner for owner in model.objects.all() if owner.pk in in_use | with_value]


def _slot(setting, design, depot, rows):
    row = rows.get((setting.name, design and design.pk, depot and depot.pk))
    pool = rows.get((setting.name, None, None))
    in_force = row.value if row else pool.value if pool else setting.default
    return Slot(setting, design, depot, row, in_force)


def _entries(row, states):
    setting = SETTINGS[row.setting]
    what = f"{setting.label} of {row.design or row.depot or 'the pool'}"
    without = "as the pool" if row.design_id or row.depot_id else f"{shown(setting, setting.default)}, the default"
    first = states[0] if states else row
    yield _entry(row.recorded_at, row.recorded_by, what, without, shown(setting, first.value), row.reason)
    for old, new in pairwise(states):
        after = without if new.cleared_on else shown(setting, new.value)
        reason = new.history_change_reason or ""
        yield _entry(new.history_date, new.history_user, what, shown(setting, old.value), after, reason)


def _entry(when, user, what, old, new, reason):
    who = (user.get_full_name() or user.get_username()) if user else ""
    return Entry(when, who, what, (Change("", old, new),), reason)
