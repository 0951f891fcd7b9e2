"""Back-ups that older versions made with pg_dump: pg_restore writes them as a script, and nothing of it is run."""

import re
import shutil
import subprocess
from contextlib import contextmanager
from glob import glob
from tempfile import TemporaryFile

from django.core.exceptions import ValidationError

from .copy_script import printable, refuse

MAGIC = b"PGDMP"
ENTRY = re.compile(r"\d+; \d+ \d+ (.*)")
# pg_dump took what belongs to the tables, too. Only rows and numbers are read of it.
TABLES = re.compile(r"TABLE (?:DATA )?\S+ (\S+) .*")
BELONGS = re.compile(r"(?:SEQUENCE|SEQUENCE OWNED BY|SEQUENCE SET|CONSTRAINT|FK CONSTRAINT|INDEX|DEFAULT|COMMENT) .*")
# rows unpack to some ten times their size; far above that somebody made a file to fill the disk
UNPACKED_LIMIT = 200
UNPACKED_ALWAYS_BYTES = 64 << 20


@contextmanager
def opened_script(dumped, tables):
    """The rows of a database out of a back-up as a stream for `read_script`, however it was written.

    ValidationError when it holds more than these tables of a pool.
    """
    with dumped.open("rb") as stream:
        if stream.read(len(MAGIC)) != MAGIC:
            stream.seek(0)
            yield stream
            return
    _refuse_foreign_contents(dumped, tables)
    with _running("pg_restore", "--data-only", "--no-owner", "--no-privileges", "--file=-", dumped) as output:
        yield _Limited(output, max(UNPACKED_ALWAYS_BYTES, UNPACKED_LIMIT * dumped.stat().st_size))


def _refuse_foreign_contents(dumped, tables):
    with _running("pg_restore", "--list", dumped) as output:
        listed = output.read().decode("utf-8", "replace")
    for entry in ENTRY.findall(listed):
        named = TABLES.fullmatch(entry)
        if named[1] not in tables if named else not BELONGS.fullmatch(entry):
            refuse(f"holds “{printable(entry)}”, which is no part of a pool")


@contextmanager
def _running(program, *arguments):
    """The output of one of PostgreSQL's tools; ValidationError with what it says when it fails."""
    with TemporaryFile() as said:
        command = [path_of(program), *map(str, arguments)]
        with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=said) as process:
            try:
                yield process.stdout
            except BaseException:
                process.kill()
                raise
        if process.returncode:
            said.seek(0)
            refuse(f"cannot be read: {printable(said.read(), 400)}")


def path_of(program):
    path = shutil.which(program) or max(glob(f"/usr/lib/postgresql/*/bin/{program}"), default=None)
    if path is None:
        raise ValidationError(
            f"This back-up was made by an older version of the app. PostgreSQL's tool {program} was not found, which "
            "reads it. Install the package postgresql-client, then restore. Nothing was restored."
        )
    return path


class _Limited:
    """A stream that refuses to unpack to more than a back-up of its size can hold."""

    def __init__(self, stream, limit_bytes):
        self._stream, self._left = stream, limit_bytes

    def readline(self, size):
        line = self._stream.readline(size)
        self._left -= len(line)
        if self._left < 0:
            refuse("unpacks to more than a back-up of its size can hold")
        return line
