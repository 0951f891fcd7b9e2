"""Ways in which a file of SQLite gets damaged, each changing it where it lies."""

import sqlite3
from contextlib import closing

PAGE_BYTES = 4096


def header_zeroed(path):
    _overwrite(path, 0, bytes(100))


def of_a_format_that_nobody_knows(path):
    _overwrite(path, 44, bytes([0, 0, 0, 99]))


def cut_in_half(path):
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)


def cut_to_nothing(path):
    path.write_bytes(b"")


def table_page_zeroed(path):
    _overwrite(path, _root(path, "fleet_mat"), bytes(PAGE_BYTES))


def table_pages_swapped(path):
    places = _root(path, "fleet_mat"), _root(path, "fleet_event")
    content = path.read_bytes()
    for here, there in (places, reversed(places)):
        _overwrite(path, here, content[there : there + PAGE_BYTES])


def sectors_lost(path):
    _overwrite(path, 40 * PAGE_BYTES, bytes(8 * PAGE_BYTES))


def index_of_another(path):
    """Each page is in order, but an index holds what belongs into another."""
    with closing(sqlite3.connect(path, isolation_level=None)) as pool:
        rows = "SELECT name, rootpage FROM sqlite_master WHERE type = 'index' AND tbl_name = 'auth_permission' LIMIT 2"
        (one, its), (other, others) = pool.execute(rows).fetchall()
        pool.execute("PRAGMA writable_schema=ON")
        pool.execute("UPDATE sqlite_master SET rootpage = ? WHERE name = ?", [others, one])
        pool.execute("UPDATE sqlite_master SET rootpage = ? WHERE name = ?", [its, other])


ALL = (
    header_zeroed,
    of_a_format_that_nobody_knows,
    cut_in_half,
    table_page_zeroed,
    table_pages_swapped,
    sectors_lost,
    index_of_another,
)


def _overwrite(path, place, content):
    with path.open("r+b") as file:
        file.seek(place)
        file.write(content)


def _root(path, table):
    """Where the first page of a table lies, in bytes from the beginning."""
    with closing(sqlite3.connect(path)) as pool:
        (page,) = pool.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [table]).fetchone()
    return (page - 1) * PAGE_BYTES
