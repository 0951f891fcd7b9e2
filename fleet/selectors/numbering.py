"""Codes that the app gives by itself: the next free ones, and those that it had to change."""

from dataclasses import dataclass

from django.apps import apps
from django.contrib.auth.models import User

from ..models import CableSegment, MatDesign, Note, RenamedCode
from ..models.fields import code_key
from ..parsing.whole_numbers import read_whole

SERIAL, NOTE = "C-", "N-"


def next_free_serials(count):
    """C-00042, C-00043 … after C-00041: as many as asked for, above the highest of that kind."""
    first = _above_highest(CableSegment, SERIAL)
    return [f"{SERIAL}{number:05d}" for number in range(first, first + count)]


def next_free_note():
    """N-00042 after N-00041."""
    return f"{NOTE}{_above_highest(Note, NOTE):05d}"


def _above_highest(model, prefix):
    key = model.key_field().name
    keys = model.objects.filter(**{f"{key}__startswith": code_key(prefix)}).order_by().values_list(key, flat=True)
    return max(filter(None, (read_whole(key[len(prefix) :]) for key in keys)), default=0) + 1


def free_design_code(wanted):
    """The wanted code, else the same with the first free number behind it."""
    taken = set(MatDesign.objects.filter(code_key__startswith=code_key(wanted)).values_list("code_key", flat=True))
    numbered = (f"{wanted} ({number})" for number in range(2, len(taken) + 3))
    return next(code for code in (wanted, *numbered) if code_key(code) not in taken)


@dataclass(frozen=True)
class Renamed:
    """A row whose code is still the one that it got for being the same as another but for capitals."""

    kind: str
    row: object
    was: str
    now: str
    same_as: str


def renamed_codes():
    """What was renamed, neither corrected nor seen since; one query where nothing was."""
    renamings = list(RenamedCode.objects.all())
    models = {label: apps.get_model(label) for label in {renamed.model for renamed in renamings}}
    rows = {
        label: model.objects.in_bulk([renamed.row_id for renamed in renamings if renamed.model == label])
        for label, model in models.items()
    }
    return [
        Renamed(_kind(models[renamed.model]), row, renamed.was, renamed.now, renamed.same_as)
        for renamed in renamings
        if (row := rows[renamed.model].get(renamed.row_id)) and getattr(row, "code_text", str(row)) == renamed.now
    ]


def _kind(model):
    return "account" if model is User else model._meta.verbose_name
