"""What a change of the policy would do to the due list, before it is saved; nothing is stored."""

from dataclasses import dataclass

import numpy as np
from django.db.models import Count

from ..assessment.policy_in_force import current_policy
from ..assessment.services import assessed_under, ensure_assessed
from ..choices import SETTINGS
from ..models import Assessment
from ..models.policies import place_in_words
from ..numeric.words import DUE, Status
from .selectors import shown, unset, wider_place


@dataclass(frozen=True)
class StatusCount:
    """How many cables have a status now, and how many would have it then."""

    status: Status
    now: int
    then: int

    @property
    def more(self):
        return self.then - self.now


@dataclass(frozen=True)
class Preview:
    """`points`: each change in words; `explained`: what the settings do that are turned to yes or no."""

    points: list[str]
    explained: list[str]
    counts: list[StatusCount]

    @property
    def due_now(self):
        return sum(count.now for count in self.counts if count.status in DUE)

    @property
    def due_then(self):
        return sum(count.then for count in self.counts if count.status in DUE)

    @property
    def total(self):
        return sum(count.now for count in self.counts)


def preview(changes, on):
    """Counts by status now and under the changed policy, over the whole pool."""
    ensure_assessed(on)
    policy = current_policy()
    changed = policy.with_values({_place(change): change.value for change in changes})
    now = dict(Assessment.objects.order_by().values_list("urgency").annotate(cables=Count("*")))
    urgency, cables = np.unique(assessed_under(changed, on)["urgency"], return_counts=True)
    then = dict(zip(urgency.tolist(), cables.tolist(), strict=True))
    counts = [StatusCount(status, now.get(status.order, 0), then.get(status.order, 0)) for status in Status]
    turned = {SETTINGS[change.setting] for change in changes}
    explained = [setting.explained for setting in turned if setting.yes_no and setting.explained]
    return Preview([_point(change, policy) for change in changes], explained, counts)


def _place(change):
    return change.setting, change.design and change.design.pk, change.position, change.depot and change.depot.pk


def _point(change, policy):
    setting = SETTINGS[change.setting]
    _, design_id, position, depot_id = _place(change)
    old = shown(setting, policy.value(setting.name, design_id, depot_id, position))
    cleared = unset(setting, wider_place(**change.place))
    new = cleared if change.value is None else shown(setting, change.value)
    return f"{setting.label} of {place_in_words(**change.place)}: {old} → {new}"
