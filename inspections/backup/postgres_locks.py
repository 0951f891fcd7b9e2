"""Turns and locks of a restore on PostgreSQL: it waits for those who write, and nobody is cut off by it."""

import random
import time

from django.core.exceptions import ValidationError
from django.db import OperationalError, connection, transaction

PATIENCE_S = 60
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
    """Lock tables until the transaction ends: whoever reads or writes them then waits.

    Those who are at work are waited for. All locks are got within a time in which the server does not yet look for
    deadlocks, or given back and asked for again: so nobody who holds one and waits for another is cut off.
    """
    if not tables:
        return
    names = ", ".join(map(connection.ops.quote_name, tables))
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            with transaction.atomic():
                _lock_at_once(cursor, names)
            return
        except OperationalError as error:
            if getattr(error.__cause__, "sqlstate", None) not in NOT_FREE:
                raise
        if time.monotonic() > until:
            raise ValidationError(
                f"The pool was in use for {PATIENCE_S} seconds on end. Stop the app, and what else reads or writes "
                "its database, then try again. Nothing was restored."
            )
        time.sleep(random.uniform(0.02, 0.2))


def _lock_at_once(cursor, names):
    cursor.execute("SELECT setting::int FROM pg_settings WHERE name = 'deadlock_timeout'")
    (deadlock_timeout_ms,) = cursor.fetchone()
    cursor.execute("SELECT current_setting('statement_timeout')")
    (usual,) = cursor.fetchone()
    cursor.execute("SELECT set_config('statement_timeout', %s, true)", [str(max(deadlock_timeout_ms // 2, 1))])
    cursor.execute(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE")
    cursor.execute("SELECT set_config('statement_timeout', %s, true)", [usual])
