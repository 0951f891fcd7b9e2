"""Turns and locks of a restore on PostgreSQL: it waits for those who write, and nobody is cut off by it."""

import random
import time

from django.core.exceptions import ValidationError
from django.db import OperationalError, connection, transaction

from fleet.models import Session

PATIENCE_S = 60
# how long those who come are kept waiting for those who are at work, before they are let in again
DRAIN_S = 3
SESSIONS = Session._meta.db_table
# any number that no other program takes in this database
TURN = 0x48_61_6C_66_70_6F_77
# a lock was not free in time; the server's limit of a statement was reached while waiting; two waited for each other
NOT_FREE = {"55P03", "57014", "40P01"}


def take_turn(cursor):
    """Wait until no other restore is under way in this database; held until the transaction ends."""
    until = time.monotonic() + PATIENCE_S
    while True:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [TURN])
        if cursor.fetchone()[0]:
            return
        if time.monotonic() > until:
            raise ValidationError(
                "Another restore is under way in this database. Wait until it is done, then try again. Nothing was "
                "restored."
            )
        time.sleep(random.uniform(0.1, 0.3))


def shut_out(cursor, tables):
    """Lock tables until the transaction ends: whoever reads or writes them then waits, and is not cut off.

    ValidationError when they are never free.
    """
    until = time.monotonic() + PATIENCE_S
    while tables and not _locked(cursor, tables):
        if time.monotonic() > until:
            raise ValidationError(
                f"The pool was in use for {PATIENCE_S} seconds on end. Stop the app, and what else reads or writes "
                "its database, then try again. Nothing was restored."
            )
        time.sleep(random.uniform(0.02, 0.2))


def _locked(cursor, tables):
    """Whether all could be locked; if not, none is.

    Sessions first: each request of a page reads its own before it holds anything, so those that come wait there, and
    those that are at work get done. Then all at once.
    """
    try:
        with transaction.atomic():
            _lock(cursor, [table for table in tables if table == SESSIONS])
            if not _others_are_done(cursor, tables):
                transaction.set_rollback(True)
                return False
            _lock(cursor, tables)
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", None) not in NOT_FREE:
            raise
        return False
    return True


def _lock(cursor, tables):
    """Within a quarter of the time after which the server looks for deadlocks, or not at all.

    So nobody who holds one of them and waits for another is ever the one that the server cuts off.
    """
    if not tables:
        return
    names = ", ".join(map(connection.ops.quote_name, tables))
    cursor.execute(
        "SELECT current_setting('statement_timeout'), set_config('statement_timeout', "
        "(SELECT greatest(setting::int / 4, 1)::text FROM pg_settings WHERE name = 'deadlock_timeout'), true)"
    )
    usual, _ = cursor.fetchone()
    cursor.execute(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE")
    cursor.execute("SELECT set_config('statement_timeout', %s, true)", [usual])


def _others_are_done(cursor, tables):
    """Wait until nobody else holds one of these tables, but not for ever; False where one of them may wait for us."""
    until = time.monotonic() + DRAIN_S
    while inside := _inside(cursor, tables):
        if time.monotonic() > until:
            return not any(inside)
        time.sleep(0.02)
    return True


def _inside(cursor, tables):
    """Of each other session that holds one of these tables, whether it waits for something."""
    cursor.execute(
        "SELECT pid IN (SELECT pid FROM pg_locks WHERE NOT granted) FROM pg_locks WHERE granted "
        "AND pid <> pg_backend_pid() AND relation = ANY(%s::regclass[]) GROUP BY pid",
        [list(map(connection.ops.quote_name, tables))],
    )
    return [is_waiting for (is_waiting,) in cursor.fetchall()]
