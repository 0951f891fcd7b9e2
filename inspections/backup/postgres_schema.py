"""Which tables of a PostgreSQL database are the pool's: those that the app's migrations make, and no other."""

from functools import lru_cache

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from .schema import applied_migrations, unknown_migrations

# of tables that a newer version made only the names can say whose they are
OURS = ("fleet_", "inspections_")
RECORDER = MigrationRecorder.Migration._meta.db_table


def tables_of(migrations=None):
    """{table: its columns} as these migrations, [app, name] each, make them; all of this version's unless named.

    The table that records them comes first.
    """
    return dict(_tables_of(None if migrations is None else tuple((app, name) for app, name in migrations)))


@lru_cache(maxsize=4)
def _tables_of(nodes):
    """Found out once: a fifth of a second, several times in each restore."""
    state = MigrationLoader(None, ignore_no_migrations=True).project_state(nodes and list(nodes))
    models = [MigrationRecorder.Migration, *state.apps.get_models(include_auto_created=True)]
    return {
        model._meta.db_table: [field.column for field in model._meta.local_concrete_fields]
        for model in models
        if model._meta.managed and not model._meta.proxy
    }


def pool_tables(cursor):
    """{table: its columns} of the pool in this database, also when a newer version of the app made them."""
    applied = applied_migrations()
    if not unknown_migrations(applied):
        return tables_of(applied)
    return {table: _columns(cursor, table) for table in replaced_tables(cursor)}


def replaced_tables(cursor):
    """The tables in this database that a restore replaces, the one that records migrations first; none without it.

    ValidationError when another app shares them with the pool.
    """
    held = connection.introspection.table_names(cursor)
    if RECORDER not in held:
        return []
    applied = applied_migrations()
    _refuse_shared(applied)
    unknown = unknown_migrations(applied)
    known = tables_of() | tables_of(migration for migration in applied if migration not in unknown)
    newer = [table for table in held if unknown and table.startswith(OURS) and table not in known]
    return [table for table in known if table in held] + newer


def _columns(cursor, table):
    return [column.name for column in connection.introspection.get_table_description(cursor, table)]


def _refuse_shared(applied):
    others = {app for app, _name in applied} - {app.label for app in apps.get_app_configs()}
    if others:
        raise ValidationError(
            f"This database holds tables of another app ({', '.join(sorted(others))}) that are mixed with the pool's. "
            "Give the pool a database of its own in DATABASE_URL."
        )
