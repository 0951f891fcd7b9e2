"""Which tables a SQLite database has, described; and those that this version of the app makes."""

import re
from contextlib import contextmanager
from copy import deepcopy
from functools import cache

from django.contrib.contenttypes.models import ContentType
from django.db import DEFAULT_DB_ALIAS, connection, connections

from .from_nothing import make_new_tables

# made by SQLite itself for numbers of new rows, and by ANALYZE
INTERNAL = ("sqlite_sequence", "sqlite_stat1", "sqlite_stat4")
TOKEN = re.compile(
    r"""(?P<left_out>\s+|--[^\n]*|/\*.*?\*/)"""
    r"""|(?P<quoted>"(?:[^"]|"")*"|'(?:[^']|'')*'|`[^`]*`|\[[^]]*\])|\w+|.""",
    re.DOTALL,
)
# what no PRAGMA tells and what changes how a table takes rows: each with the word behind it
CLAUSES = ("AUTOINCREMENT", "COLLATE", "CONFLICT", "ROWID", "STRICT", "VIRTUAL", "STORED")


@contextmanager
def as_the_pool(path):
    """Let this thread's work go to another database file: under its own name, which migrations may take for granted."""
    own = connections[DEFAULT_DB_ALIAS]
    other = type(own)(deepcopy(own.settings_dict) | {"NAME": path}, DEFAULT_DB_ALIAS)
    connections[DEFAULT_DB_ALIAS] = other
    try:
        yield
    finally:
        other.close()
        connections[DEFAULT_DB_ALIAS] = own
        # numbers of the other database
        ContentType.objects.clear_cache()


@cache
def expected_description():
    """The description of a database that this version has just made: under a second, once a process."""
    with as_the_pool(":memory:"):
        make_new_tables()
        described = description(connection.connection)
        # Django keeps the connection to a database in memory
        connection.connection.close()
    return described


def description(database):
    """{what it is, in words: its definition} of all that a database holds; see `schema.differences`."""
    described = {}
    for kind, name, table, sql in database.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall():
        if kind == "table" and name not in INTERNAL:
            described |= _table(database, name, _tokens(sql))
        elif kind == "view":
            described[f"view {name}"] = " ".join(_tokens(sql))
        elif kind != "table" and sql is not None:
            described[f"{kind} {name} of {table}"] = " ".join(_tokens(sql))
    return described


def _table(database, table, tokens):
    clauses = (
        " ".join(tokens[place : place + 2]).rstrip(" ,") for place, token in enumerate(tokens) if token in CLAUSES
    )
    described = {f"table {table}": ", ".join(sorted(clauses))}
    for _, name, kind, never_null, default, key, hidden in database.execute(f"PRAGMA table_xinfo({_quoted(table)})"):
        words = [kind.lower(), "never empty" if never_null else "", f"default {default}" if default is not None else ""]
        words += [f"key {key}" if key else "", "computed" if hidden else ""]
        described[f"column {table}.{name}"] = ", ".join(filter(None, words))
    for words in (*_foreign_keys(database, table), *_uniqueness(database, table), *_checks(tokens)):
        described[f"{words} in {table}"] = ""
    return described


def _foreign_keys(database, table):
    for _, _, to, column, key, update, delete, _ in database.execute(f"PRAGMA foreign_key_list({_quoted(table)})"):
        yield f"foreign key {column} to {to}.{key} ({update}, {delete})".lower()


def _uniqueness(database, table):
    """Keys and uniqueness that the table itself asks for, without an index that has a name."""
    for _, index, _, origin, _ in database.execute(f"PRAGMA index_list({_quoted(table)})").fetchall():
        if origin != "c":
            columns = database.execute(f"PRAGMA index_xinfo({_quoted(index)})").fetchall()
            yield "uniqueness of " + ", ".join(f"{name} {order}" for _, _, name, _, order, is_key in columns if is_key)


def _checks(tokens):
    for place in (place for place, token in enumerate(tokens) if token == "CHECK"):
        depth, end = 0, place
        while (end := end + 1) < len(tokens):
            depth += (tokens[end] == "(") - (tokens[end] == ")")
            if depth == 0:
                break
        yield " ".join(["check", *tokens[place + 1 : end + 1]])


def _tokens(sql):
    """The words of a statement as they count: without comments and blanks, in capitals where it makes no difference."""
    found = [token for token in TOKEN.finditer(sql) if not token["left_out"]]
    return [token[0] if token["quoted"] else token[0].upper() for token in found]


def _quoted(name):
    return '"' + name.replace('"', '""') + '"'
