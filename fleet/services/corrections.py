"""The same correction of many rows, each with its trail."""

from django.db.models import F
from django.utils import timezone


def correct_alike(rows, *, by, because="", **values):
    """Set the same values on all these rows and leave the old ones in each row's trail; a handful of queries in all.

    Call inside a transaction in which the rows were read and locked.
    """
    rows = list(rows)
    if not rows:
        return
    model = type(rows[0])
    ids = [row.pk for row in rows]
    begun = set(model.history.filter(id__in=ids).values_list("id", flat=True))
    entries = [_entry(row, "+", row.recorded_at, row.recorded_by_id) for row in rows if row.pk not in begun]
    model._base_manager.filter(pk__in=ids).update(version=F("version") + 1, **values)
    now = timezone.now()
    for row in rows:
        row.version += 1
        for name, value in values.items():
            setattr(row, name, value)
        entries.append(_entry(row, "~", now, by and by.pk, because))
    model.history.model.objects.bulk_create(entries, batch_size=500)


def _entry(row, kind, when, user_id, because=""):
    history = type(row).history.model
    return history(
        history_date=when,
        history_type=kind,
        history_user_id=user_id,
        history_change_reason=because[:100] or None,
        **{field.attname: getattr(row, field.attname) for field in history.tracked_fields},
    )
