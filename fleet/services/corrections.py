"""The same correction, or the deletion, of many rows, each with its trail."""

from django.core.exceptions import ValidationError
from django.db import connection, connections
from django.db.models import F
from django.utils import timezone

from ..models.fields import CodeKeyField, code_key
from ..models.trail import change_reason
from .trail_copies import begin_trails, copy_into_trails


def correct_alike(rows, *, by, reason="", **values):
    """Set the same values on all these rows and leave the old ones in each row's trail; a handful of queries in all.

    The rows were read and locked in a transaction of the caller.
    """
    correct_each([(row, values) for row in rows], by=by, reason=reason, stored=values)


def correct_each(changes, *, by, reason="", stored=None):
    """As `correct_alike`, with values of its own for each row; `changes`: (row, {field: value}), all alike in fields.

    A field that points to another row is named with its key, as `depot_id`.

    Queries do not grow with the rows. `stored`: what to write where it is the same for all.
    """
    assert connection.in_atomic_block, "rows and their trail are kept together"
    changes = list(changes)
    if not changes:
        return
    rows = [row for row, _ in changes]
    model, ids = type(rows[0]), [row.pk for row in rows]
    for values in [stored] if stored else [values for _, values in changes]:
        _check(model, values)
    same = model._base_manager.filter(pk__in=ids)
    begin_trails(same)
    if stored is None:
        _store_each(model, changes)
    else:
        same.update(version=F("version") + 1, **stored)
    for row, values in changes:
        row.version += 1
        for name, value in values.items():
            setattr(row, name, value)
    copy_into_trails(same, "~", when=timezone.now(), by=by, reason=reason)


def delete_alike(rows, *, by, reason):
    """Delete these rows, and leave what each said in its trail; a handful of queries in all.

    The rows were read and locked in a transaction of the caller. Rows that belong to them are deleted before.
    """
    assert connection.in_atomic_block, "rows and their trail are kept together"
    rows = list(rows)
    if not rows:
        return
    model, now = type(rows[0]), timezone.now()
    entries = _first_entries(rows)
    entries += [_entry(row, "-", now, by and by.pk, reason) for row in rows]
    model.history.model.objects.bulk_create(entries, batch_size=500)
    stored = model._base_manager.filter(pk__in=[row.pk for row in rows])
    # the ordinary way would write the trail once more, a query for each row
    stored._raw_delete(stored.db)


def _first_entries(rows):
    """What they said when they were entered, of those whose trail has not begun."""
    model = type(rows[0])
    begun = set(model.history.filter(id__in=[row.pk for row in rows]).values_list("id", flat=True))
    return [_entry(row, "+", row.recorded_at, row.recorded_by_id) for row in rows if row.pk not in begun]


def _check(model, values):
    """What the model's fields demand; ValidationError says which."""
    wrong = {}
    for name, value in values.items():
        field = model._meta.get_field(name)
        if field.is_relation and name == field.attname:
            continue
        try:
            field.run_validators(value)
        except ValidationError as error:
            wrong[field.name] = error
    if wrong:
        raise ValidationError(wrong)


def _store_each(model, changes):
    """One prepared statement, run for each row: one that names all rows at once takes far longer to be put together."""
    connection = connections[model._base_manager.db]
    quote = connection.ops.quote_name
    fields = {name: model._meta.get_field(name) for name in changes[0][1]}
    keys = [field for field in model._meta.concrete_fields if isinstance(field, CodeKeyField) and field.code in fields]
    written = [*fields.values(), *keys]
    sets = [f"{quote(field.column)} = %s" for field in written] + [f"{quote('version')} = {quote('version')} + 1"]
    statement = f"UPDATE {quote(model._meta.db_table)} SET {', '.join(sets)} WHERE {quote(model._meta.pk.column)} = %s"
    with connection.cursor() as cursor:
        cursor.executemany(statement, [_stored(row, values, fields, keys, connection) for row, values in changes])


def _stored(row, values, fields, keys, connection):
    """What the driver takes for one row: its values, the keys of its codes, its own key."""
    told = [field.get_db_prep_save(values[name], connection) for name, field in fields.items()]
    return [*told, *(code_key(values[key.code]) for key in keys), row.pk]


def _entry(row, kind, when, user_id, reason=""):
    history = type(row).history.model
    return history(
        history_date=when,
        history_type=kind,
        history_user_id=user_id,
        history_change_reason=change_reason(reason),
        **{field.attname: getattr(row, field.attname) for field in history.tracked_fields},
    )
