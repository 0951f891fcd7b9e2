"""Many rows deleted at once with their trail, inside the database: a thousand mats bring fifty thousand rows."""

from django.utils import timezone

from .trail_copies import begin_trails, copy_into_trails


def delete_in_bulk(rows, *, by, reason):
    """Delete the rows of a query and leave what each said in its trail, as `corrections.delete_alike` does.

    Three statements whatever their number. Call inside a transaction that has the pool to itself, after the rows that
    belong to these.
    """
    model = rows.model
    rows = model._base_manager.filter(pk__in=rows.order_by().values("pk"))
    begin_trails(rows)
    copy_into_trails(rows, "-", when=timezone.now(), by=by, reason=reason)
    # the ordinary way would write the trail once more, a query for each row
    return rows._raw_delete(rows.db)
