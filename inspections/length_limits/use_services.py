"""Put limits by length into the policy in one act, and take it back as one."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.shortcuts import get_object_or_404

from fleet.models import MatDesign
from fleet.services.locks import hold, hold_pool

from ..choices import LIMIT_NAME
from ..models import Assessment, PolicyValue, UsedLimits
from ..numeric.words import DUE
from ..policy.services import PolicyChange, change_policy


def use_limits(proposed, *, wear_clock, by, on, reason=""):
    """All of [Proposed] or none; refused where a value changed since it was read. Returns the UsedLimits."""
    if not proposed:
        raise ValidationError("The policy has these limits already: nothing would change.", code="unchanged")
    with transaction.atomic():
        hold_pool()
        before = _cables_due()
        change_policy([each.change for each in proposed], by=by, on=on, reason=reason)
        used = UsedLimits(
            used_on=on,
            wear_clock=wear_clock,
            lines=_lines(proposed, LIMIT_NAME[wear_clock]),
            due_before=before,
            due_after=_cables_due(),
            reason=reason,
            recorded_by=by,
        )
        used.full_clean()
        used.save()
        return used


def take_back(used, *, by, on, reason="", seen_version=None):
    """What the act set and nobody changed since is again what it was before. Returns the UsedLimits."""
    with transaction.atomic():
        hold_pool()
        hold(used)
        if used.taken_back_on:
            raise ValidationError("These limits were taken back already.", code="closed")
        changes = going_back(used)
        used.correct(by=by, reason=reason, seen_version=seen_version, taken_back_on=on)
        if changes:
            change_policy(changes, by=by, on=on, reason=reason or f"{used} taken back")
        return used


def going_back(used):
    """[PolicyChange] that undo the act: of what stands as it left it."""
    rows = {row.pk: row for row in PolicyValue.objects.in_force().filter(pk__in=[line["row"] for line in used.lines])}
    designs = MatDesign.objects.in_bulk({line["design"] for line in used.lines})
    name = LIMIT_NAME[used.wear_clock]
    return [
        PolicyChange(
            name,
            line["was"],
            designs[line["design"]],
            seen_version=line["version"],
            seen_row=line["row"],
            position=line["position"],
        )
        for line in used.lines
        if line["row"] in rows and rows[line["row"]].version == line["version"]
    ]


def used_limits():
    """Every such act, newest first."""
    return UsedLimits.objects.select_related("recorded_by")


def get_used_or_404(pk):
    return get_object_or_404(used_limits(), pk=pk)


def _lines(proposed, name):
    rows = PolicyValue.objects.in_force().filter(setting=name, design__in={each.row.design for each in proposed})
    kept = {(row.design_id, row.position): row for row in rows}
    return [_line(each, kept[each.row.design.pk, each.row.position]) for each in proposed]


def _line(each, kept):
    return {
        "design": each.row.design.pk,
        "code": each.row.design.code,
        "position": each.row.position,
        "length_m": each.row.length_m,
        "was": each.own and each.own.value,
        "before": each.row.today,
        "now": each.value,
        "row": kept.pk,
        "version": kept.version,
    }


def _cables_due():
    return Assessment.objects.of_status(*DUE).count()
