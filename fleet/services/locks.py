"""Who waits for whom: every act holds what it is about before it looks, so that what it saw still holds when it writes.

On PostgreSQL by row locks taken in one ORDER, so that no two acts wait for each other; on SQLite a transaction holds
the whole database from its beginning, and these functions only read.
"""

from contextlib import contextmanager
from itertools import groupby

from django.core.exceptions import ValidationError
from django.db import connection

from ..models import CableSegment, Event, EventSeries, Mat, MatDesign

# Each kind says which rows of the next ones an act is about. What belongs to these (fittings, faults, readings) comes
# after them, and the count of changes that assessments are made under last of all.
ORDER = (EventSeries, Event, MatDesign, CableSegment, Mat)
DELETED = "Somebody else has just deleted this. Go back, and look at what is there now."
# any numbers that nothing else in this database uses as advisory locks
_POOL = 5_011_949_203
_LEDGER = 5_011_949_204


def hold(*rows):
    """Hold these rows until the transaction ends; each then says what is stored, but for the version that was seen.

    Rows of a kind that comes earlier in ORDER than what the transaction holds already must be held by it, too.
    ValidationError where somebody has deleted one.
    """
    _take_part()
    for model, group in groupby(sorted(filter(None, rows), key=_place), key=type):
        _reread(model, list(group))


def hold_all(queryset):
    """Hold the rows of a query, as `hold` does; the rows."""
    _take_part()
    return list(queryset.order_by("pk").select_for_update(no_key=True, of=("self",)))


def hold_pool():
    """Wait until every other act is done and let none begin until the transaction ends.

    For acts whose checks are about rows that nobody can hold because they are not there yet: a second event of that
    name, another order for a cable, the rows of files. To be called before anything else is held.
    """
    _advise("pg_advisory_xact_lock")


def hold_ledger():
    """Be the only one who adds to the ledger of the shelf until the transaction ends.

    To be called after all rows are held, and before the count of changes that assessments are made under.
    """
    _take_part()
    _advise("pg_advisory_xact_lock", _LEDGER)


@contextmanager
def not_waiting_for_writers():
    """What is written inside is refused at once while somebody else writes: for what no page is to wait for.

    On PostgreSQL, who writes another row is not waited for in any case.
    """
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        (usual_ms,) = cursor.execute("PRAGMA busy_timeout").fetchone()
        cursor.execute("PRAGMA busy_timeout = 0")
        try:
            yield
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {usual_ms}")


def _take_part():
    """Wait for whoever has the pool alone."""
    _advise("pg_advisory_xact_lock_shared")


def _advise(function, number=_POOL):
    assert connection.in_atomic_block, "what is held is held until the transaction ends"
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {function}(%s)", [number])


def _place(row):
    model = type(row)
    return (ORDER.index(model) if model in ORDER else len(ORDER), model._meta.label, row.pk)


def _reread(model, rows):
    wanted = model._base_manager.filter(pk__in={row.pk for row in rows}).order_by("pk")
    stored = {row.pk: row for row in wanted.select_for_update(no_key=True)}
    for row in rows:
        if row.pk not in stored:
            raise ValidationError(DELETED)
        _take_over(row, stored[row.pk])


def _take_over(row, stored):
    """The version stays as it was seen: a row that changed since is refused where it is corrected."""
    for field in row._meta.concrete_fields:
        if field.name == "version":
            continue
        value = getattr(stored, field.attname)
        if field.is_relation and field.is_cached(row) and getattr(row, field.attname) != value:
            field.delete_cached_value(row)
        setattr(row, field.attname, value)
