"""The pool as files: all columns, rows in order of their keys, so that two exports of a pool are the same bytes."""

import csv
from contextlib import contextmanager

from django.db import connection, transaction
from django.db.models import F

CHUNK = 5_000


@contextmanager
def one_moment():
    """Everything read inside belongs to one state of the pool, whatever is written or restored meanwhile."""
    outermost = not connection.in_atomic_block
    with transaction.atomic():
        if outermost and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
                # tables that a restore puts in place are empty to whoever chose the moment before: it is waited for
                cursor.execute("LOCK TABLE django_migrations IN ACCESS SHARE MODE")
        yield


def write_file(layout, stream):
    """Write the file of a layout to a text stream opened with newline=""; returns the number of rows."""
    # CRLF between rows: RFC 4180; it also makes the writer quote every cell that holds a CR or LF
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(layout.names)
    count = 0
    for values in layout.values_of(rows_in_order(layout), layout.columns, at_a_time=CHUNK):
        writer.writerow([column.write(value) for column, value in zip(layout.columns, values, strict=True)])
        count += 1
    return count


def rows_in_order(layout):
    """The rows of the pool that the file is about, in order of their keys."""
    in_order = [F(column.path).asc(nulls_first=True) for column in layout.key]
    return layout.stored_rows().order_by(*in_order)
