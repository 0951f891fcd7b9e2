"""A back-up's database built beside the pool, in a schema of its own: tables by our migrations, rows by COPY.

Nothing that a back-up holds is ever run: neither its definitions nor its statements.
"""

import secrets
from collections import namedtuple
from contextlib import contextmanager
from functools import cache

from django.core.exceptions import ValidationError
from django.core.management import CommandError
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from .checks import NOTHING
from .copy_script import Block, copy_in, printable, read_script, refuse
from .custom_dump import opened_script
from .from_nothing import make_new_tables
from .postgres_schema import RECORDER, tables_of
from .schema import applied_migrations, bring_up_to_date

Beside = namedtuple("Beside", "schema target tables")
# a value that does not fit, a rule that does not hold, a column that cannot take it
ROWS_DO_NOT_FIT = ("22", "23", "42")
NO_CHANGE = ("SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK")


def build(cursor, dumped, migrations):
    """Build the database of a back-up that has been through these migrations, and bring it up to date.

    Inside a transaction, which takes all of it back when the back-up is refused.
    """
    _refuse_migrations_that_do_not_fit(migrations)
    tables = tables_of(migrations)
    schema, target = f"halfpower_restore_{secrets.token_hex(4)}", _current_schema(cursor)
    with opened_script(dumped, tables) as script:
        _refuse_other_contents(script, tables)
    cursor.execute(f"CREATE SCHEMA {connection.ops.quote_name(schema)}")
    with _working_in(cursor, schema):
        _make_empty_tables(cursor, migrations, tables)
        with opened_script(dumped, tables) as script:
            _read_rows(cursor, script, tables)
        if applied_migrations() != sorted(migrations):
            refuse("has been through other migrations than the back-up says")
        bring_up_to_date()
        connection.check_constraints()
        return Beside(schema, target, connection.introspection.table_names(cursor))


def looking_into(cursor, beside):
    """Let everything that names a table mean that beside the pool."""
    return _working_in(cursor, beside.schema)


def swap(cursor, beside, replaced):
    """Put the tables built beside in place of these tables of the pool, which are locked."""
    quote = connection.ops.quote_name
    if replaced:
        cursor.execute(f"DROP TABLE {', '.join(map(quote, replaced))}")
    _move_extensions(cursor, beside)
    for table in beside.tables:
        cursor.execute(f"ALTER TABLE {quote(beside.schema)}.{quote(table)} SET SCHEMA {quote(beside.target)}")
    cursor.execute(f"DROP SCHEMA {quote(beside.schema)}")


def _refuse_migrations_that_do_not_fit(migrations):
    """Those of a back-up that no version of this app has been through: some without what they rest on."""
    if not migrations:
        refuse("holds no pool")
    nodes = MigrationLoader(None, ignore_no_migrations=True).graph.node_map
    gaps = [
        (app, name, parent.key)
        for app, name in migrations
        for parent in nodes[app, name].parents
        if list(parent.key) not in migrations
    ]
    # of all that rest on one that is missing, the next of the same app says most
    for app, name, missing in sorted(gaps, key=lambda gap: gap[0] != gap[2][0]):
        raise ValidationError(
            f"The back-up could not be brought up to date: Migration {app}.{name} rests on {'.'.join(missing)}, which "
            f"it has not been through. {NOTHING}"
        )


def _make_empty_tables(cursor, migrations, tables):
    cursor.execute("SELECT extname FROM pg_extension ORDER BY 1")
    extensions = tuple(name for (name,) in cursor.fetchall())
    for sql, params in _statements_of(tuple((app, name) for app, name in migrations), extensions):
        cursor.execute(sql, params)
    # a migration may have entered rows of its own: the back-up holds them, as they have become
    cursor.execute(f"TRUNCATE {', '.join(map(connection.ops.quote_name, tables))}")


@cache
def _statements_of(migrations, extensions):
    """[statement, parameters] with which our migrations make their tables in a database that has these extensions.

    Found out by trying, once a process: for an older version it takes some seconds, nearly all of them Django's own.
    """
    made = []

    def note(execute, sql, params, many, context):
        if not sql.lstrip().startswith(NO_CHANGE):
            made.append((sql, params))
        return execute(sql, params, many, context)

    with transaction.atomic(), connection.execute_wrapper(note):
        try:
            _make_tables_of(migrations)
        except CommandError as failure:
            raise ValidationError(f"The tables of the back-up could not be made: {failure} {NOTHING}") from failure
        transaction.set_rollback(True)
    return made


def _make_tables_of(migrations):
    """Those of this version at once; older ones as they came to be."""
    executor = MigrationExecutor(connection)
    all_steps = executor.migration_plan(executor.loader.graph.leaf_nodes(), clean_start=True)
    steps = [step for step in all_steps if (step[0].app_label, step[0].name) in migrations]
    if len(steps) == len(all_steps):
        make_new_tables()
    else:
        executor.migrate(None, steps)


def _refuse_other_contents(script, tables):
    """A script that is not, to the last line, the rows of these tables."""
    missing = dict(tables)
    for part in read_script(script):
        if not isinstance(part, Block):
            continue
        if part.table not in missing:
            refuse(f"holds rows of “{printable(part.table)}”, which is no table of a pool, or holds them twice")
        if sorted(part.columns) != sorted(missing.pop(part.table)):
            refuse(f"holds other columns of “{part.table}” than a pool has")
        for _ in part.pieces:
            pass
    if missing:
        refuse(f"lacks the rows of {', '.join(missing)}")


def _read_rows(cursor, script, tables):
    # the tables come in any order, and migrations have some keys looked up at once
    cursor.execute("SET CONSTRAINTS ALL DEFERRED")
    sequences = {}
    for part in read_script(script):
        if isinstance(part, Block):
            _read_block(part)
        else:
            sequences[part.name] = part
    _check_foreign_keys()
    for table in tables:
        _set_sequences(cursor, table, sequences)


def _read_block(block):
    try:
        lines, rows = copy_in(block)
    except DatabaseError as error:
        if _kind(error) not in ROWS_DO_NOT_FIT:
            raise
        refuse(f"holds rows that do not fit the table {block.table}: {_said(error)}")
    if lines != rows:
        refuse(f"holds lines of {block.table} that are no rows")


def _check_foreign_keys():
    try:
        connection.check_constraints()
    except IntegrityError as error:
        refuse(f"holds rows that name others which it does not hold: {_said(error)}")


def _set_sequences(cursor, table, stated):
    """Numbers go on where they had come to, also after rows that are gone since."""
    quote = connection.ops.quote_name
    for sequence in connection.introspection.get_sequences(cursor, table):
        cursor.execute(f"SELECT max({quote(sequence['column'])}) FROM {quote(table)}")
        highest = cursor.fetchone()[0] or 0
        known = stated.get(sequence["name"])
        last = max(highest, known.last if known and known.is_used else 0)
        if last:
            cursor.execute("SELECT setval(%s::regclass, %s)", [quote(sequence["name"]), last])


def _move_extensions(cursor, beside):
    """One that a migration has just created lies where the tables are going to lie."""
    cursor.execute(
        "SELECT extname FROM pg_extension JOIN pg_namespace n ON n.oid = extnamespace WHERE nspname = %s",
        [beside.schema],
    )
    quote = connection.ops.quote_name
    for (name,) in cursor.fetchall():
        cursor.execute(f"ALTER EXTENSION {quote(name)} SET SCHEMA {quote(beside.target)}")


@contextmanager
def _working_in(cursor, schema):
    """Let everything that names a table mean that of this schema alone."""
    cursor.execute("SELECT current_setting('search_path')")
    (usual,) = cursor.fetchone()
    cursor.execute("SELECT set_config('search_path', %s, true)", [connection.ops.quote_name(schema)])
    yield
    cursor.execute("SELECT set_config('search_path', %s, true)", [usual])


def _current_schema(cursor):
    """Where the pool lies, or will lie."""
    cursor.execute(
        "SELECT coalesce((SELECT nspname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace "
        "WHERE c.oid = to_regclass(%s)), current_schema())",
        [RECORDER],
    )
    return cursor.fetchone()[0]


def _kind(error):
    return (getattr(error.__cause__, "sqlstate", None) or "")[:2]


def _said(error):
    return printable(error.__cause__.diag.message_primary or "", 200)
