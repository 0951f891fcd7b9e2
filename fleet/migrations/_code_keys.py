"""Fills the keys of codes. Of stored codes that are the same but for capitals, the later gets a number behind it."""

from itertools import count

from django.utils import timezone

from fleet.models.fields import code_key
from fleet.validators import CODE_LENGTH

BATCH = 500


def filling_keys(app, fields):
    """The function for RunPython; `fields`: {model: its field that holds the code}."""

    def fill(apps, schema_editor):
        for model, code in fields.items():
            _fill(apps, f"{app}.{model.lower()}", code)
        # PostgreSQL alters no table of which rows still wait to be checked
        schema_editor.connection.check_constraints()

    return fill


def _fill(apps, label, code):
    model, key = apps.get_model(label), f"{code}_key"
    first, later = {}, []
    for row in model.objects.order_by("pk").only("pk", code).iterator():
        setattr(row, key, code_key(getattr(row, code)))
        if first.setdefault(getattr(row, key), row) is not row:
            later.append(row)
    model.objects.bulk_update(first.values(), [key], batch_size=BATCH)
    for row in later:
        older = first[getattr(row, key)]
        new = _numbered(getattr(row, code), first)
        first[code_key(new)] = row
        _rename(apps, label, model.objects.get(pk=row.pk), code, new, getattr(older, code))


def _numbered(code, taken):
    for number in count(2):
        behind = f" ({number})"
        new = code[: CODE_LENGTH - len(behind)].rstrip() + behind
        if code_key(new) not in taken:
            return new


def _rename(apps, label, row, code, new, same_as):
    was = getattr(row, code)
    history = apps.get_model(label.replace(".", ".historical"))
    if not history.objects.filter(id=row.pk).exists():
        enter(history, row, "+", row.recorded_at, history_user_id=row.recorded_by_id)
    setattr(row, code, new)
    setattr(row, f"{code}_key", code_key(new))
    row.version += 1
    row.save()
    reason = f"“{was}” and “{same_as}” are the same but for capitals"
    enter(history, row, "~", timezone.now(), history_change_reason=reason)
    told = {"was": was, "now": new, "same_as": same_as}
    apps.get_model("fleet.renamedcode").objects.create(model=label, row_id=row.pk, **told)


def enter(history, row, kind, when, **values):
    """An entry of the trail of that row as it is now; `kind` as django-simple-history has it."""
    columns = {field.attname for field in history._meta.concrete_fields}
    kept = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
    kept = {name: value for name, value in kept.items() if name in columns}
    history.objects.create(history_date=when, history_type=kind, **kept, **values)
