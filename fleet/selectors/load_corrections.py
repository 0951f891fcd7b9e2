"""What a load corrected in rows that were there before it: what each said until then, and what it says now."""

from collections import defaultdict
from dataclasses import dataclass

from django.apps import apps
from django.db.models import ForeignKey, Model

from ..models import LoadCorrection

KEPT = {"version", "recorded_at", "recorded_by", "load"}


@dataclass(frozen=True)
class Corrected:
    """One row with the fields that the load corrected: {field: value} `before` and `after` it."""

    row: Model
    before: dict
    after: dict

    @property
    def model(self):
        return type(self.row)

    @property
    def is_changed_since(self):
        return any(getattr(self.row, name) != value for name, value in self.after.items())


def corrected_by(load):
    """{model: [Corrected]} of the rows that are still there; three queries for each kind."""
    versions = defaultdict(dict)
    for kind, row, version in (
        LoadCorrection.objects.filter(load=load).order_by("pk").values_list("kind", "row", "version")
    ):
        versions[apps.get_model(kind)][row] = version
    return {model: _corrected(load, model, of_rows) for model, of_rows in versions.items()}


def numbers_corrected(load):
    """{model: how many rows the load corrected}, those that are gone by now too."""
    kinds = LoadCorrection.objects.filter(load=load).order_by("pk").values_list("kind", flat=True)
    numbers = defaultdict(int)
    for kind in kinds:
        numbers[apps.get_model(kind)] += 1
    return dict(numbers)


def lost_targets(corrected):
    """Those of the Corrected, all of one model, that pointed before to what is there no more."""
    if not corrected:
        return []
    lost = {}
    for field in _keys(corrected[0].model):
        before = {each.before[field.attname] for each in corrected if field.attname in each.before} - {None}
        there = field.remote_field.model._base_manager.filter(pk__in=before).values_list("pk", flat=True)
        lost[field.attname] = before - set(there) if before else set()
    return [each for each in corrected if any(each.before.get(name) in gone for name, gone in lost.items())]


def _keys(model):
    return [field for field in model.history.model.tracked_fields if isinstance(field, ForeignKey)]


def _corrected(load, model, versions):
    of_load = LoadCorrection.objects.filter(load=load, kind=model._meta.label_lower).values("row")
    rows = {row.pk: row for row in _with_names(model._base_manager.filter(pk__in=of_load))}
    states = {}
    for state in model.history.filter(id__in=of_load).order_by("history_id").iterator():
        if state.id in rows and versions[state.id] - state.version in (0, 1):
            states[state.id, versions[state.id] - state.version] = state
    return [_of_states(row, states[pk, 1], states[pk, 0]) for pk, row in rows.items()]


def _of_states(row, before, after):
    fields = [field.attname for field in before.tracked_fields if field.name not in KEPT]
    changed = [name for name in fields if getattr(before, name) != getattr(after, name)]
    return Corrected(
        row, {name: getattr(before, name) for name in changed}, {name: getattr(after, name) for name in changed}
    )


def _with_names(rows):
    names = [field.name for field in rows.model._meta.concrete_fields if field.is_relation]
    return rows.select_related(*names).order_by("pk")
