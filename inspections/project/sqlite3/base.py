"""SQLite as Django opens it, and two more ways for disks that would not have it opened: read-only ones and full ones.

Readers, back-ups and exports then go on; whoever writes is told why that is not possible.
"""

import os
import sqlite3
from pathlib import Path

from django.db.backends.sqlite3 import base

# the file by which connections share what they know of the write-ahead log could not be made as large as it must be
NO_ROOM_TO_SHARE = {sqlite3.SQLITE_IOERR_SHMSIZE, sqlite3.SQLITE_IOERR_SHMOPEN, sqlite3.SQLITE_IOERR_SHMMAP}


class DatabaseWrapper(base.DatabaseWrapper):
    def get_new_connection(self, conn_params):
        place = Path(conn_params["database"])
        commands, self.init_commands = [command for command in self.init_commands if command.strip()], []
        if place.is_file() and not _may_be_written(place):
            self.transaction_mode = "DEFERRED"
            return self._open_to_read(place, conn_params, [c for c in commands if "journal_mode" not in c])
        try:
            return self._opened(conn_params, commands)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode not in NO_ROOM_TO_SHARE:
                raise
            # sharing with nobody, a connection keeps in memory what it would else share in a file
            return self._opened(conn_params, ["PRAGMA locking_mode=EXCLUSIVE", *commands])

    def _open_to_read(self, place, conn_params, commands):
        """Without the files of the log, which cannot be made either, it can only be read as one that never changes."""
        uri = f"{place.absolute().as_uri()}?mode=ro"
        try:
            return self._opened(conn_params | {"database": uri}, commands)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_CANTOPEN or _has_log(place):
                raise
            return self._opened(conn_params | {"database": f"{uri}&immutable=1"}, commands)

    def _opened(self, conn_params, commands):
        opened = super().get_new_connection(conn_params)
        try:
            # SQLite itself opens the file only when it is first asked
            for command in [*commands, "PRAGMA schema_version"]:
                opened.execute(command)
        except sqlite3.Error:
            # left to Python, it would go on to hold its lock
            opened.close()
            raise
        return opened


def _may_be_written(place):
    return all(os.access(path, os.W_OK) for path in (place, place.parent))


def _has_log(place):
    log = place.with_name(f"{place.name}-wal")
    return log.exists() and log.stat().st_size > 0
