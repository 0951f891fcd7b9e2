"""One cable at a time in a position and a cable in one position at a time: held by the database where it can.

SQLite lets one write after another, so the check before each write is enough there. Where the records of an older
version had two at once, the one that was fitted first came out when the next one went in: nobody can be asked.
"""

from django.core.management.base import CommandError
from django.db import DatabaseError, transaction
from django.db.models import F
from django.utils import timezone

from ._code_keys import enter

REASON = "the records had two at once"
PLACES = {
    "one_cable_in_a_position_at_a_time": ("mat_id", "position"),
    "a_cable_in_one_position_at_a_time": ("segment_id",),
}
MISSING = "0A000"
NO_BTREE_GIST = (
    "PostgreSQL's extension btree_gist, by which no position ever holds two cables, could not be created: {why}. "
    "Ask whoever looks after the database server {ask}, and start again."
)


def end_overlaps(apps, schema_editor):
    for place in PLACES.values():
        for earlier, later in _overlaps(apps.get_model("fleet", "Fitting"), place):
            _end(apps, earlier, later)


def _overlaps(model, place):
    """(fitting, the next one in its place, which begins before it ends), oldest first."""
    fittings = model.objects.exclude(removed_on=F("fitted_on")).select_related("segment", "mat")
    found, last = [], None
    for fitting in fittings.order_by(*place, "fitted_on", F("removed_on").asc(nulls_last=True), "pk").iterator():
        alike = last and all(getattr(last, field) == getattr(fitting, field) for field in place)
        if alike and (last.removed_on is None or last.removed_on > fitting.fitted_on):
            found.append((last, fitting))
        last = fitting
    return found


def _end(apps, fitting, later):
    history = apps.get_model("fleet", "HistoricalFitting")
    if not history.objects.filter(id=fitting.pk).exists():
        enter(history, fitting, "+", fitting.recorded_at, history_user_id=fitting.recorded_by_id)
    until = f"to {fitting.removed_on}" if fitting.removed_on else "on"
    fitting.removed_on = later.fitted_on
    fitting.removal_reason = fitting.removal_reason or REASON
    fitting.version += 1
    fitting.save()
    enter(history, fitting, "~", timezone.now(), history_change_reason=REASON)
    print(
        f"Two at once on record: {_named(fitting)} {until}, and {_named(later)} on. The first ends on the later day "
        "now. Correct it if it was otherwise."
    )


def _named(fitting):
    return f"{fitting.segment.serial} in {fitting.mat.number} position {fitting.position} from {fitting.fitted_on}"


def add_constraints(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    schema_editor.connection.check_constraints()
    _make_extension(schema_editor.connection)
    for name, place in PLACES.items():
        same = ", ".join(f"{column} WITH =" for column in place)
        schema_editor.execute(
            f"ALTER TABLE fleet_fitting ADD CONSTRAINT {name} "
            f"EXCLUDE USING gist ({same}, daterange(fitted_on, removed_on) WITH &&)"
        )


def remove_constraints(apps, schema_editor):
    """The extension stays: others may use it by now."""
    if schema_editor.connection.vendor == "postgresql":
        for name in PLACES:
            schema_editor.execute(f"ALTER TABLE fleet_fitting DROP CONSTRAINT {name}")


def _make_extension(connection):
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_extension WHERE extname = 'btree_gist'")
        if cursor.fetchone():
            return
        try:
            with transaction.atomic():
                cursor.execute("CREATE EXTENSION btree_gist")
        except DatabaseError as error:
            raise CommandError(_why_not(error, connection)) from error


def _why_not(error, connection):
    if getattr(error.__cause__, "sqlstate", "") == MISSING:
        why, ask = "its files are not there", "to install them (package postgresql-contrib)"
    else:
        why = f"the account {connection.settings_dict['USER'] or 'in use'} may not"
        ask = f"to run CREATE EXTENSION btree_gist in the database {connection.settings_dict['NAME']}"
    return NO_BTREE_GIST.format(why=why, ask=ask)
