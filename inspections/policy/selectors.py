"""The policy as it is looked at and edited: each setting with the values that override it, and the trail of changes."""

from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import attrgetter

from django.db.models import Count
from django.shortcuts import get_object_or_404

from fleet.access import name_of
from fleet.figures import two_places
from fleet.models import Depot, DesignPosition, MatDesign
from fleet.parsing.durations import months_in_words
from fleet.selectors.register import get_design_or_404, positions_of_design
from fleet.selectors.trail import Change, Entry

from ..choices import SETTINGS, SetOn
from ..models import AssessmentRun, PolicyValue
from ..numeric.calendar import whole_months
from ..numeric.words import Clock

NO_LIMIT, NOT_KNOWN = "no limit", "not known"
# what yes and no mean where they are not called so
WORDS = {"wear_by_events": (Clock.YEARS, Clock.EVENTS)}


@dataclass(frozen=True)
class Slot:
    """One place where a value may stand: a setting of the pool, of a design, of a position of it, or of a depot.

    `row` None: not set; `in_force` is what holds there, whoever set it.
    """

    setting: object
    design: MatDesign | None
    position: int | None
    depot: Depot | None
    row: PolicyValue | None
    in_force: float

    @property
    def key(self):
        """Its field's name."""
        if self.position is not None:
            return f"{position_key(self.design, self.position)}.{self.setting.name}"
        owner = f"design-{self.design.pk}" if self.design else f"depot-{self.depot.pk}" if self.depot else "pool"
        return f"{owner}.{self.setting.name}"

    @property
    def of_pool(self):
        return self.design is None and self.depot is None

    @property
    def label(self):
        if self.position is not None:
            return f"{self.setting.label}, position {self.position}"
        owner = self.design or self.depot
        return f"{self.setting.label}, {owner}" if owner else self.setting.label

    @property
    def wider(self):
        """Where the value comes from while none is set here."""
        return wider_place(self.design, self.position, self.depot)

    @property
    def shown(self):
        return shown(self.setting, self.in_force)

    @property
    def default(self):
        return shown(self.setting, self.setting.default)

    @property
    def unit(self):
        """What stands behind the number that is typed."""
        return "%" if is_share(self.setting) else "" if is_time(self.setting) else self.setting.unit


@dataclass(frozen=True)
class PolicyPage:
    """Slots by owner: of the pool; of each design and each depot (name to slots)."""

    pool: list[Slot]
    designs: list[tuple[MatDesign, list[Slot]]]
    depots: list[tuple[Depot, list[Slot]]]

    @property
    def listed(self):
        """Those that stand one below the other, with what their settings do."""
        return self.pool

    @property
    def slots(self):
        return [*self.pool, *(slot for _, slots in [*self.designs, *self.depots] for slot in slots)]


@dataclass(frozen=True)
class DesignPolicyPage:
    """Slots of one design, and of each of its positions."""

    design: MatDesign
    own: list[Slot]
    positions: list[tuple[DesignPosition, list[Slot]]]

    @property
    def listed(self):
        return self.own

    @property
    def slots(self):
        return [*self.own, *(slot for _, slots in self.positions for slot in slots)]


def policy_page(on, *, set_on=SetOn.LIMITS):
    """Designs and depots in use, and those withdrawn that still have a value of their own; three queries.

    `set_on`: days of work or costs, in place of what decides what is due.
    """
    settings = [setting for setting in SETTINGS.values() if setting.set_on == set_on]
    rows = _rows_in_force()
    with_values = {design for _, design, position, _ in rows if position is None}
    designs, depots = _owners(MatDesign, on, with_values), _owners(Depot, on, {depot for *_, depot in rows})
    return PolicyPage(
        pool=[_slot(s, rows) for s in settings if s.per_pool],
        designs=[(d, [_slot(s, rows, design=d) for s in settings if s.per_design]) for d in designs],
        depots=[(d, [_slot(s, rows, depot=d) for s in settings if s.per_depot]) for d in depots],
    )


def design_policy_page(code):
    design = get_design_or_404(code)
    rows = _rows_in_force()
    positions = [
        (place, [_slot(s, rows, design, place.number) for s in SETTINGS.values() if s.per_position])
        for place in positions_of_design(design)
    ]
    return DesignPolicyPage(design, [_slot(s, rows, design) for s in SETTINGS.values() if s.per_design], positions)


def positions_with_values():
    """{design id: number of its positions that have a value of their own}"""
    own = PolicyValue.objects.in_force().exclude(position=None).order_by()
    return dict(own.values_list("design").annotate(Count("position", distinct=True)))


def position_key(design, number):
    return f"design-{design.pk}-position-{number}"


def wider_place(design, position, depot):
    """Where a value comes from while none is set there; None for the pool, where it is the default."""
    return "the design" if position is not None else "the pool" if design or depot else None


def shown(setting, value):
    """A value in words: shares in per cent, yes and no, times in years and months, money, no limit, not known."""
    if value is None:
        return NOT_KNOWN
    if setting.yes_no:
        return WORDS.get(setting.name, ("no", "yes"))[int(value)]
    if setting.off_at_zero and value == 0:
        return NO_LIMIT
    if is_share(setting):
        return f"{value * 100:.10g} %"
    if is_time(setting):
        return months_in_words(int(whole_months(value)))
    if setting.is_money:
        return two_places(value)
    return f"{value:.10g} {setting.unit.removesuffix('s') if value == 1 else setting.unit}"


def unset(setting, wider):
    """What stands where no value is set, in words; `wider`: as `wider_place` says."""
    if wider:
        return f"as {wider}"
    return NOT_KNOWN if setting.default is None else f"{shown(setting, setting.default)}, the default"


def is_time(setting):
    """Given in years and months, and kept in whole months."""
    return setting.unit == "years"


def is_same(setting, value, other):
    """Whether two values of a setting, either of which may be None, hold alike."""
    if is_time(setting) and None not in (value, other):
        return whole_months(value) == whole_months(other)
    return value == other


def is_share(setting):
    return not (setting.unit or setting.yes_no or setting.is_money)


def policy_trail(design=None, *, set_on=SetOn.LIMITS):
    """Every change of policy (of one design), newest first: what it was before, also where that was the default."""
    names = [setting.name for setting in SETTINGS.values() if setting.set_on == set_on]
    rows = PolicyValue.objects.filter(setting__in=names).select_related("design", "depot", "recorded_by").order_by("pk")
    states = PolicyValue.history.select_related("history_user").order_by("id", "history_id")
    if design:
        rows, states = rows.filter(design=design), states.filter(design=design)
    history = {pk: list(of_row) for pk, of_row in groupby(states, key=attrgetter("id"))}
    entries = [entry for row in rows for entry in _entries(row, history.get(row.pk, []))]
    return sorted(entries, key=attrgetter("when"), reverse=True)


def get_run_or_404(pk):
    return get_object_or_404(AssessmentRun, pk=pk)


def _owners(model, on, with_value):
    in_use = set(model.objects.in_use(on).values_list("pk", flat=True))
    return [owner for owner in model.objects.all() if owner.pk in in_use | with_value]


def _rows_in_force():
    return {(row.setting, row.design_id, row.position, row.depot_id): row for row in PolicyValue.objects.in_force()}


def _slot(setting, rows, design=None, position=None, depot=None):
    design_id, depot_id = design and design.pk, depot and depot.pk
    places = ((design_id, position, depot_id), (design_id, None, depot_id), (None, None, None))
    found = [rows.get((setting.name, *place)) for place in places]
    in_force = next((row.value for row in found if row), setting.default)
    return Slot(setting, design, position, depot, found[0], in_force)


def _entries(row, states):
    setting = SETTINGS[row.setting]
    what = f"{setting.label} of {row.place}"
    wider = wider_place(row.design, row.position, row.depot)
    without = unset(setting, wider)
    first = states[0] if states else row
    yield _entry(row.recorded_at, row.recorded_by, what, without, shown(setting, first.value), row.reason)
    for old, new in pairwise(states):
        after = without if new.cleared_on else shown(setting, new.value)
        reason = new.history_change_reason or ""
        yield _entry(new.history_date, new.history_user, what, shown(setting, old.value), after, reason)


def _entry(when, user, what, old, new, reason):
    who = name_of(user)
    return Entry(when, who, what, (Change("", old, new),), reason)
