"""Many rows at once, by columns: no model object for each, COPY on PostgreSQL and one prepared statement on SQLite."""

from itertools import islice, repeat

from django.db import DEFAULT_DB_ALIAS, connections

from .fields import CodeKeyField, code_key

# Django keeps what it hands to the driver until the call is over; and a few thousand values stay in the processor's
# cache, a pool's do not
CHUNK = 500


def insert_rows(model, columns, same, *, using=DEFAULT_DB_ALIAS):
    """Insert a row for each place of `columns`, {attribute name: a list of values}; `same` holds values of all rows.

    Other fields take their defaults, and codes their keys. As with Django's `bulk_create` nothing is validated but by
    the database, and no history is written. Raises IntegrityError.
    """
    connection, length = connections[using], len(next(iter(columns.values())))
    fields = [field for field in model._meta.concrete_fields if not field.primary_key or field.attname in columns]
    ready = [_ready(field, columns, same, connection, length) for field in fields]
    write_rows(connection, model._meta.db_table, [field.column for field in fields], zip(*ready, strict=True))


def write_rows(connection, table, names, rows):
    """Write tuples of what the driver takes into these columns of a table."""
    quote = connection.ops.quote_name
    into = f"{quote(table)} ({', '.join(map(quote, names))})"
    if connection.vendor == "postgresql":
        _copy(connection, f"COPY {into} FROM STDIN", rows)
        return
    statement = f"INSERT INTO {into} VALUES ({', '.join(['%s'] * len(names))})"
    rows = iter(rows)
    with connection.cursor() as cursor:
        while chunk := list(islice(rows, CHUNK)):
            cursor.executemany(statement, chunk)


def count_anew(models, *, using=DEFAULT_DB_ALIAS):
    """Let the database look at tables that have grown much, so that it plans what is asked next for as many rows.

    PostgreSQL does so by itself, but later, and not within the transaction that wrote them: until then it takes them
    for empty, and a look-up in 10,000 rows took it 5 s.
    """
    connection = connections[using]
    if connection.vendor == "postgresql":
        names = sorted({connection.ops.quote_name(model._meta.db_table) for model in models})
        with connection.cursor() as cursor:
            cursor.execute(f"ANALYZE {', '.join(names)}")


def _copy(connection, statement, rows):
    # the driver's own errors are not Django's: those of a COPY come as it ends
    with connection.cursor() as cursor, connection.wrap_database_errors, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)


def _ready(field, columns, same, connection, length):
    """The values of a field as the driver takes them."""
    if field.attname in columns:
        return _prepared(columns[field.attname], lambda value: field.get_db_prep_save(value, connection))
    if isinstance(field, CodeKeyField):
        return _prepared(columns[field.code], code_key)
    value = same[field.attname] if field.attname in same else field.get_default()
    return repeat(field.get_db_prep_save(value, connection), length)


def _prepared(values, prepare):
    """Each different value is prepared once; but 0.0 and -0.0 are two values, and lists no key at all."""
    try:
        different = set(values)
    except TypeError:
        return map(prepare, values)
    if any(isinstance(value, float) for value in different):
        return map(prepare, values)
    return map({value: prepare(value) for value in different}.__getitem__, values)
