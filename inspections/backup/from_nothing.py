"""The tables of this version in a database that holds none: made at once, and recorded as if by every migration.

Step by step Django draws all models anew for nearly each change: fifteen seconds of a processor, of which this takes
one. `tests/inspections/backup/test_from_nothing.py` holds both ways against each other.
"""

from importlib import import_module

from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

# What migrations make that no model tells: (module, function). A new one that makes such a thing is named here too.
OF_NO_MODEL = (
    ("fleet.migrations._account_names", "add_index"),
    ("fleet.migrations._one_at_a_time", "add_constraints"),
)
# (table, column) that a migration made unique later: PostgreSQL has another name for that
UNIQUE_SINCE = (("fleet_eventseries", "code"),)


def holds_no_tables():
    """Whether no migration was ever begun in the database in use: neither a record of one nor a table of ours."""
    if MigrationRecorder(connection).applied_migrations():
        return False
    ours = {model._meta.db_table for model in _models()}
    return ours.isdisjoint(connection.introspection.table_names())


def make_new_tables():
    """All of them, wholly or not at all. What `migrate` does at its end is left to it: content types, permissions.

    CommandError where the server lacks an extension, as the migration that asks for it says.
    """
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    with connection.schema_editor(atomic=True) as editor:
        for model in _models():
            editor.create_model(model)
        _name_as_migrations_do(editor)
        for module, name in OF_NO_MODEL:
            getattr(import_module(module), name)(None, editor)
        # deferred by the editor to its end, and nothing is recorded before it holds
        for migration in _in_their_order():
            recorder.record_applied(migration.app_label, migration.name)


def _name_as_migrations_do(editor):
    if connection.vendor != "postgresql":
        return
    for table, column in UNIQUE_SINCE:
        name = editor._create_index_name(table, [column], suffix="_uniq")
        editor.execute(f"ALTER TABLE {table} RENAME CONSTRAINT {table}_{column}_key TO {name}")


def _models():
    """As the last migrations leave them; each makes its own tables of many to many."""
    models = MigrationLoader(None, ignore_no_migrations=True).project_state().apps.get_models()
    return [model for model in models if model._meta.managed and not model._meta.proxy]


def _in_their_order():
    executor = MigrationExecutor(connection)
    return [step for step, _ in executor.migration_plan(executor.loader.graph.leaf_nodes(), clean_start=True)]
