"""The database of a pool on PostgreSQL: copied and put back by PostgreSQL's own tools."""

import os
import shutil
import subprocess
from glob import glob

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from django.db.backends.postgresql.client import DatabaseClient

from .schema import bring_up_to_date

PATIENCE_S = 60
END_OF_ROWS = b"\\.\n"


def dump(target):
    """Write one moment of the pool's tables to a new file; writers go on meanwhile."""
    with connection.cursor() as cursor:
        tables = [f"--table={name}" for name in _pool_tables(cursor)]
    client, where = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    options = ["--format=custom", "--no-owner", "--no-privileges", "--no-password", *tables, f"--file={target}"]
    run_tool("pg_dump", *options, *client[1:], environment=where)


def prepare(dumped):
    """Turn a dump into the script that rebuilds the tables; a dump that cannot be read stops here."""
    script = dumped.with_suffix(".sql")
    run_tool("pg_restore", "--no-owner", "--no-privileges", f"--file={script}", str(dumped))
    return script


def put_in_place(script):
    """Replace the pool's tables and bring them up to date in one transaction: it holds whole or not at all."""
    try:
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{PATIENCE_S}s'")
            _drop(cursor, _pool_tables(cursor))
            cursor.execute("SELECT current_setting('search_path')")
            search_path = cursor.fetchone()[0]
            with connection.wrap_database_errors, script.open("rb") as lines, connection.connection.cursor() as raw:
                _execute(raw, lines)
            cursor.execute("SELECT set_config('search_path', %s, true)", [search_path])
            bring_up_to_date()
    except DatabaseError as error:
        raise ValidationError(f"PostgreSQL refused the back-up: {error}") from error
    finally:
        # the script has set more than the search path for this session
        connection.close()


def is_damaged():
    """Always False: the server looks after that itself."""
    return False


def _pool_tables(cursor):
    """Tables of our apps and Django's, also of another version; what else lies in this database is left alone."""
    ours = ("django_", *(f"{app.label}_" for app in apps.get_app_configs()))
    return [name for name in connection.introspection.table_names(cursor) if name.startswith(ours)]


def _drop(cursor, tables):
    if tables:
        names = ", ".join(map(connection.ops.quote_name, tables))
        cursor.execute(f"DROP TABLE {names} CASCADE")


def _execute(cursor, lines):
    """Run a script of pg_restore: statements, rows after each COPY, and lines for psql alone, which are passed over."""
    statements = []
    for line in lines:
        if line.startswith(b"COPY ") and line.endswith(b" FROM stdin;\n"):
            _flush(cursor, statements)
            with cursor.copy(line) as rows:
                for row in iter(lambda: next(lines), END_OF_ROWS):
                    rows.write(row)
        elif not line.startswith((b"--", b"\\")):
            statements.append(line)
    _flush(cursor, statements)


def _flush(cursor, statements):
    text = b"".join(statements)
    statements.clear()
    if text.strip():
        cursor.execute(text)


def run_tool(program, *arguments, environment=None):
    command = shutil.which(program) or max(glob(f"/usr/lib/postgresql/*/bin/{program}"), default=None)
    if command is None:
        raise ValidationError(f"PostgreSQL's tool {program} was not found. Install the package postgresql-client.")
    done = subprocess.run(
        [command, *arguments],
        env=os.environ | (environment or {}),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        raise ValidationError(f"{program} stopped: {done.stderr.strip()}")
