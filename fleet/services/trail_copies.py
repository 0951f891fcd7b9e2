"""What many rows say, copied into their trail inside the database: no object for each entry."""

from django.db import connections, models
from django.db.models import Exists, F, OuterRef, Value

from ..models.trail import change_reason


def begin_trails(rows):
    """What they said when they were entered, of those rows of a query whose trail has not begun."""
    begun = rows.model.history.model.objects.filter(id=OuterRef("pk"))
    entered = {"history_date": F("recorded_at"), "history_type": Value("+"), "history_user_id": F("recorded_by_id")}
    _enter(rows.filter(~Exists(begun)), **entered, history_change_reason=_none())


def copy_into_trails(rows, kind, *, when, by, reason):
    """What the rows of a query say now; `kind`: “~” of what was corrected, “-” of what is deleted."""
    entered = {"history_date": Value(when, models.DateTimeField()), "history_type": Value(kind)}
    user = Value(by.pk) if by else Value(None, models.IntegerField())
    _enter(
        rows, **entered, history_user_id=user, history_change_reason=Value(change_reason(reason), models.TextField())
    )


def _none():
    return Value(None, models.TextField())


def _enter(rows, **entry):
    """Copy what the rows say into their trail, each with these values of the entry."""
    history, connection = rows.model.history.model, connections[rows.db]
    fields = [history._meta.get_field(field.name) for field in history.tracked_fields]
    entered = [history._meta.get_field(name) for name in ("history_date", "history_type")]
    entered += [history._meta.get_field("history_user"), history._meta.get_field("history_change_reason")]
    names = ", ".join(connection.ops.quote_name(field.column) for field in (*fields, *entered))
    # an alias for each: some are named as what leads from the row to its trail
    values = {f"of_{name}": value for name, value in entry.items()}
    select = rows.order_by().annotate(**values).values_list(*[field.attname for field in fields], *values)
    sql, params = select.query.get_compiler(rows.db).as_sql()
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {connection.ops.quote_name(history._meta.db_table)} ({names}) {sql}", params)
