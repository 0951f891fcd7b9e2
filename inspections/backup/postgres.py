"""The database of a pool on PostgreSQL: its rows copied as they are at one moment, and put back in one transaction."""

from collections import namedtuple
from contextlib import ExitStack, contextmanager

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction

from fleet.intake.exporting import one_moment

from .checks import refuse_without_keeper
from .copy_script import write_script
from .postgres_beside import build, looking_into, swap
from .postgres_locks import shut_out, take_turn
from .postgres_schema import pool_tables, replaced_tables
from .records import rows_in_use

# by PostgreSQL's codes for errors
REFUSALS = {
    "42501": "The account in DATABASE_URL may not do what a restore does: {said}. It needs the right to create schemas "
    "in the database (GRANT CREATE ON DATABASE) and has to own the pool's tables.",
    "2BP01": "Something in this database rests on the pool's tables and would be lost: {detail}. Take it away, "
    "restore, then create it again.",
    "42P07": "Something in this database has a name that the pool needs: {said}. Rename it, or give the pool a "
    "database of its own in DATABASE_URL.",
}

Built = namedtuple("Built", "cursor beside replaced change")


def dump(target):
    """Write the rows of the pool's own tables at one moment to a new file; writers go on meanwhile."""
    with one_moment(), connection.cursor() as cursor, target.open("xb") as stream:
        write_script(pool_tables(cursor), stream)


@contextmanager
def prepared(dumped, migrations):
    """What `put_in_place` takes: the database of a back-up, built and checked beside the pool's.

    Meanwhile no other restore goes on in this database, and whoever uses the pool waits for the end of the block.
    Nothing is left when the block ends before it was put in place.
    """
    with ExitStack() as change, _told_in_sentences():
        built = _build(change, dumped, migrations)
        shut_out(built.cursor, built.replaced)
        yield built


@contextmanager
def looked_into(dumped, migrations):
    """As `prepared`, for a look: the pool stays in use, and nothing is left of it."""
    with ExitStack() as change, _told_in_sentences():
        yield _build(change, dumped, migrations)
        transaction.set_rollback(True)


def _build(change, dumped, migrations):
    change.callback(ContentType.objects.clear_cache)
    change.enter_context(transaction.atomic(durable=True))
    cursor = change.enter_context(connection.cursor())
    take_turn(cursor)
    replaced_tables(cursor)
    beside = build(cursor, dumped, migrations)
    with looking_into(cursor, beside):
        refuse_without_keeper()
    return Built(cursor, beside, replaced_tables(cursor), change)


@contextmanager
def watching():
    """As on SQLite: here all others are locked out before the pool's copy is made."""
    yield lambda: False


def put_in_place(prepared, is_written=None):
    """Replace the pool's tables: it holds whole or not at all."""
    swap(prepared.cursor, prepared.beside, prepared.replaced)
    prepared.change.close()


def inside(prepared):
    """Let everything that names a table mean that of the back-up."""
    return looking_into(prepared.cursor, prepared.beside)


def rows_of(prepared):
    """{table: how many rows} of the database of a back-up."""
    with inside(prepared):
        return rows_in_use()


def is_damaged(*, wholly_checked=False):
    """Always False: the server looks after that itself."""
    return False


@contextmanager
def _told_in_sentences():
    try:
        yield
    except DatabaseError as error:
        cause = error.__cause__
        refusal = REFUSALS.get(getattr(cause, "sqlstate", None))
        if refusal is None:
            raise
        detail = "; ".join((cause.diag.message_detail or "").splitlines())
        raise ValidationError(
            f"{refusal.format(said=cause.diag.message_primary, detail=detail)} Nothing was restored."
        ) from error
