"""Set the policy: each value with who, when and why, and everything that rests on it assessed again."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.models import Depot, Fitting, MatDesign

from ..assessment.runs import pool_is_large, start_run
from ..assessment.services import reassess
from ..choices import SETTINGS
from ..models import PolicyValue

# settings that no segment's standing rests on
LEAVES_STANDINGS = {"detection_goal"}


@dataclass(frozen=True)
class PolicyChange:
    """`value` None clears it: the pool's value stands again, or for the pool the default.

    `seen_version`: that of the value the keeper looked at, 0 where none was set; None: do not check.
    """

    setting: str
    value: float | None
    design: MatDesign | None = None
    depot: Depot | None = None
    seen_version: int | None = None

    @property
    def of_pool(self):
        return self.design is None and self.depot is None


def change_policy(changes, *, by, on, because=""):
    """All changes or none, with what they touch assessed again in the same transaction.

    A large pool is assessed beside the request instead; then its `AssessmentRun` is returned.
    """
    with transaction.atomic():
        for change in changes:
            _set(change, by, on, because)
        weighty = [change for change in changes if change.setting not in LEAVES_STANDINGS]
        if not any(change.of_pool for change in weighty):
            reassess(_segments_under(weighty, on), on=on)
        elif pool_is_large():
            return start_run(by=by, on=on)
        else:
            reassess(None, on=on)
    return None


def _set(change, by, on, because):
    _check_owner(change)
    row = PolicyValue.objects.filter(setting=change.setting, design=change.design, depot=change.depot).first()
    if change.seen_version is not None and change.seen_version != (row.version if row else 0):
        raise ValidationError(_changed_meanwhile(change), code="stale")
    if row is None:
        _set_first(change, by, because)
    elif change.value is None:
        row.correct(by=by, because=because, cleared_on=on)
    else:
        row.correct(by=by, because=because, value=change.value)


def _set_first(change, by, because):
    if change.value is None:
        return
    row = PolicyValue(
        setting=change.setting,
        value=change.value,
        design=change.design,
        depot=change.depot,
        because=because,
        recorded_by=by,
    )
    row.full_clean(validate_constraints=False)
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise ValidationError(_changed_meanwhile(change), code="stale") from None


def _check_owner(change):
    setting = SETTINGS.get(change.setting)
    if setting is None:
        raise ValidationError(f"“{change.setting}” is not a setting.")
    if (change.design and not setting.per_design) or (change.depot and not setting.per_depot):
        raise ValidationError(f"{setting.label} is one value for the whole pool.")


def _changed_meanwhile(change):
    owner = change.design or change.depot or "the pool"
    label = SETTINGS[change.setting].label
    return f"{label} of {owner}: somebody else changed it meanwhile. Look at it again before you save."


def _segments_under(changes, on):
    """Segments in place in mats of the designs and depots that the changes name."""
    fittings = Fitting.objects.current(on).order_by()
    designs = [change.design for change in changes if change.design]
    depots = [change.depot for change in changes if change.depot]
    of_designs = fittings.filter(mat__design__in=designs).values_list("segment", flat=True)
    return of_designs.union(fittings.filter(mat__depot__in=depots).values_list("segment", flat=True))
