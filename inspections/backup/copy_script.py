"""Rows as PostgreSQL's COPY writes them: a block a table, then where each sequence of numbers stands.

`psql` could run such a script; we only read it. What is no block, nor what pg_dump writes around them, is refused.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import connection

END_OF_ROWS = b"\\.\n"
PIECE_BYTES = 1 << 16
NAME = rb'(?:[a-z_][a-z0-9_]*|"(?:[^"\n]|"")+")'
COPY = re.compile(rb"COPY (?:%b\.)?(%b) \((%b(?:, %b)*)\) FROM stdin;\n" % (NAME, NAME, NAME, NAME))
SEQUENCE = re.compile(rb"SELECT pg_catalog\.setval\('(?:%b\.)?(%b)', (\d{1,19}), (true|false)\);\n" % (NAME, NAME))
ENCODING = re.compile(rb"SET client_encoding = '([A-Z0-9_]+)';\n")
PASSED_OVER = re.compile(
    rb"(?:--.*|SET [a-z_]+ = [a-z0-9']+;|SELECT pg_catalog\.set_config\('search_path', '', false\);"
    rb"|\\(?:un)?restrict [A-Za-z0-9]+)?\n"
)
# whatever the server was told to write: numbers to the last digit, days as any server reads them
PLAIN_VALUES = "SET LOCAL extra_float_digits = 1; SET LOCAL datestyle = 'ISO'; SET LOCAL intervalstyle = 'postgres'"


@dataclass(frozen=True)
class Block:
    """The rows of one table, in pieces of lines; they are read before the next block is asked for."""

    table: str
    columns: list
    encoding: str
    pieces: Iterator


@dataclass(frozen=True)
class SequenceState:
    """The last number of a sequence; `is_used`: whether it was given to a row."""

    name: str
    last: int
    is_used: bool


def write_script(tables, stream):
    """Write the rows of {table: columns}, and how far their numbers have come."""
    with connection.cursor() as cursor:
        cursor.execute(PLAIN_VALUES)
        for table, columns in tables.items():
            _write_block(_named(table, columns), stream)
        for table in tables:
            for name, last, is_used in _sequences(cursor, table):
                stream.write(f"SELECT pg_catalog.setval('{name}', {last}, {str(is_used).lower()});\n".encode())


def _write_block(named, stream):
    stream.write(f"COPY {named} FROM stdin;\n".encode())
    statement = f"COPY {named} TO STDOUT (ENCODING 'UTF8')"
    with connection.wrap_database_errors, connection.connection.cursor() as raw, raw.copy(statement) as rows:
        for piece in rows:
            stream.write(piece)
    stream.write(END_OF_ROWS)


def _sequences(cursor, table):
    for sequence in connection.introspection.get_sequences(cursor, table):
        cursor.execute(f"SELECT last_value, is_called FROM {connection.ops.quote_name(sequence['name'])}")
        yield sequence["name"], *cursor.fetchone()


def copy_in(block):
    """Put the rows of a block into its table; returns how many lines it held and how many rows the table took."""
    lines = 0
    statement = f"COPY {_named(block.table, block.columns)} FROM STDIN (ENCODING '{block.encoding}')"
    with connection.wrap_database_errors, connection.connection.cursor() as raw:
        with raw.copy(statement) as rows:
            for piece in block.pieces:
                rows.write(piece)
                lines += piece.endswith(b"\n")
        return lines, raw.rowcount


def _named(table, columns):
    quote = connection.ops.quote_name
    return f"{quote(table)} ({', '.join(map(quote, columns))})"


def read_script(stream):
    """The Blocks and SequenceStates of a script. ValidationError at the first line that is neither."""
    encoding = "UTF8"
    while line := stream.readline(PIECE_BYTES):
        if found := ENCODING.fullmatch(line):
            encoding = found[1].decode()
        elif found := COPY.fullmatch(line):
            yield Block(_plain(found[1]), list(map(_plain, re.findall(NAME, found[2]))), encoding, _pieces(stream))
        elif found := SEQUENCE.fullmatch(line):
            yield SequenceState(_plain(found[1]), int(found[2]), found[3] == b"true")
        elif not PASSED_OVER.fullmatch(line):
            refuse(f"holds “{printable(line)}”, which is neither rows nor numbers of a pool")


def _pieces(stream):
    is_new_line = True
    while piece := stream.readline(PIECE_BYTES):
        if is_new_line and piece == END_OF_ROWS:
            return
        yield piece
        is_new_line = piece.endswith(b"\n")
    refuse("is cut off in the middle of its rows")


def _plain(name):
    text = name.decode("utf-8", "replace")
    return text[1:-1].replace('""', '"') if text.startswith('"') else text


def refuse(said):
    raise ValidationError(f"The database in this back-up {said}. Nothing was restored.")


def printable(text, length=80):
    """Foreign bytes or text as they may stand in a sentence."""
    text = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    text = "".join(letter if letter.isprintable() else " " for letter in text).strip()
    return text if len(text) <= length else f"{text[: length - 1]}…"
