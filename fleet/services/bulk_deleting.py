"""Many rows deleted at once with their trail, inside the database: a thousand mats bring fifty thousand rows."""

from django.db import connections, models
from django.db.models import Exists, F, OuterRef, Value
from django.utils import timezone

from ..models.trail import change_reason


def delete_in_bulk(rows, *, by, reason):
    """Delete the rows of a query and leave what each said in its trail, as `corrections.delete_alike` does.

    Three statements whatever their number. Call inside a transaction that has the pool to itself, after the rows that
    belong to these.
    """
    model = rows.model
    rows = model._base_manager.filter(pk__in=rows.order_by().values("pk"))
    begun = model.history.model.objects.filter(id=OuterRef("pk"))
    entered = {"history_date": F("recorded_at"), "history_type": Value("+"), "history_user_id": F("recorded_by_id")}
    _enter(rows.filter(~Exists(begun)), **entered, history_change_reason=_none())
    deleted = {"history_date": Value(timezone.now(), models.DateTimeField()), "history_type": Value("-")}
    user = Value(by.pk) if by else Value(None, models.IntegerField())
    _enter(rows, **deleted, history_user_id=user, history_change_reason=Value(change_reason(reason)))
    # the ordinary way would write the trail once more, a query for each row
    return rows._raw_delete(rows.db)


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
