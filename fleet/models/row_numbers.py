"""The number of a deleted row is never given again: its trail would become that of another row."""

from django.db import connections


def keep_numbers(sender, using="default", **kwargs):
    """After each migrate: SQLite counts on from the highest number that is or was; made again, a table forgets those
    that were.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        # a database may be taken back to an earlier version, which lacks some
        there = set(connection.introspection.table_names(cursor))
        for model in sender.get_models():
            if hasattr(model, "history") and model.history.model._meta.db_table in there:
                _count_on(cursor, model._meta.db_table, model.history.model._meta.db_table)


def _count_on(cursor, table, trail):
    cursor.execute(f'SELECT MAX(id) FROM "{trail}" WHERE history_type = %s', ["-"])
    (highest,) = cursor.fetchone()
    if highest is None:
        return
    cursor.execute("UPDATE sqlite_sequence SET seq = MAX(seq, %s) WHERE name = %s", [highest, table])
    if not cursor.rowcount:
        cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, highest])
