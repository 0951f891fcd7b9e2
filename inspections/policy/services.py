"""Set the policy: each value with who, when and why, and everything that rests on it assessed again."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q

from fleet.models import Depot, Fitting, MatDesign
from fleet.services.locks import hold_pool

from ..assessment.policy_in_force import current_policy
from ..assessment.runs import pool_is_large, start_run
from ..assessment.services import reassess
from ..choices import SETTINGS, SetOn
from ..models import PolicyValue
from ..models.policies import place_in_words
from ..validators import EVENT_COSTS, check_event_costs
from .selectors import shown


@dataclass(frozen=True)
class PolicyChange:
    """`value` None clears it: the design's or pool's value stands again, or for the pool the default.

    `seen_version`, `seen_row`: of the value the keeper looked at; version 0: none was set. None: do not check.
    """

    setting: str
    value: float | None
    design: MatDesign | None = None
    depot: Depot | None = None
    seen_version: int | None = None
    seen_row: int | None = None
    position: int | None = None

    @property
    def of_pool(self):
        return self.design is None and self.depot is None

    @property
    def place(self):
        return {"design": self.design, "position": self.position, "depot": self.depot}


def change_policy(changes, *, by, on, reason=""):
    """All changes or none, with what they touch assessed again in the same transaction; days of work
    and costs touch nothing.

    A large pool is assessed beside the request instead; then its `AssessmentRun` is returned.
    """
    with transaction.atomic():
        hold_pool()
        rows = [_row_of(change) for change in changes]
        _refuse_late(changes, rows)
        for change, row in zip(changes, rows, strict=True):
            _set(change, row, by, on, reason)
        _check_together(changes)
        changes = [change for change in changes if SETTINGS[change.setting].set_on == SetOn.LIMITS]
        if not changes:
            return None
        if not any(change.of_pool for change in changes):
            reassess(segments_under(changes, on), on=on)
        elif pool_is_large():
            return start_run(by=by, on=on)
        else:
            reassess(None, on=on)
    return None


def _check_together(changes):
    """Refuse values that cannot hold beside each other, whichever of them were changed."""
    if any(change.setting in EVENT_COSTS for change in changes):
        policy = current_policy()
        check_event_costs(*map(policy.value, EVENT_COSTS))


def _row_of(change):
    """The value that stands there; None: none is set."""
    _check_owner(change)
    return PolicyValue.objects.in_force().filter(setting=change.setting, **change.place).first()


def _refuse_late(changes, rows):
    """Refuse with each value that somebody else changed since the keeper looked, and what it is now."""
    late = [
        _changed_meanwhile(change, row)
        for change, row in zip(changes, rows, strict=True)
        if change.seen_version not in (None, row.version if row else 0)
        or (row and change.seen_row not in (None, row.pk))
    ]
    if late:
        raise ValidationError(late)


def _set(change, row, by, on, reason):
    if row is None:
        _set_first(change, by, reason)
    elif change.value is None:
        row.correct(by=by, reason=reason, cleared_on=on)
    else:
        row.correct(by=by, reason=reason, value=change.value)


def _set_first(change, by, reason):
    if change.value is None:
        return
    row = PolicyValue(
        setting=change.setting,
        value=change.value,
        **change.place,
        reason=reason,
        recorded_by=by,
    )
    row.full_clean(validate_constraints=False)
    row.save()


def _check_owner(change):
    setting = SETTINGS.get(change.setting)
    if setting is None:
        raise ValidationError(f"“{change.setting}” is not a setting.")
    if (change.design and not setting.per_design) or (change.depot and not setting.per_depot):
        raise ValidationError(f"{setting.label} is one value for the whole pool.")
    if change.position is not None:
        _check_position(change, setting)


def _check_position(change, setting):
    if not setting.per_position:
        raise ValidationError(f"{setting.label} is one value for all positions of a design.")
    if change.design is None or not change.design.positions.filter(number=change.position).exists():
        raise ValidationError(f"{setting.label}: {change.design or 'the pool'} has no position {change.position}.")


def _changed_meanwhile(change, row):
    setting = SETTINGS[change.setting]
    what = f"{setting.label} of {place_in_words(**change.place)}"
    now = f", to {shown(setting, row.value)}" if row else ""
    return ValidationError(
        f"{what}: somebody else changed it meanwhile{now}. Look at it again before you save.",
        code="stale",
    )


def segments_under(changes, on):
    """Segments in place in mats of the designs, in the positions and in mats of the depots that the changes name."""
    touched = Q()
    for change in changes:
        if change.depot:
            touched |= Q(mat__depot=change.depot)
        elif change.position is None:
            touched |= Q(mat__design=change.design)
        else:
            touched |= Q(mat__design=change.design, position=change.position)
    return Fitting.objects.current(on).filter(touched).order_by().values_list("segment", flat=True)
