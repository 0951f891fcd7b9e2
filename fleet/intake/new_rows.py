"""The new rows of a table as columns of its model, and their place in the database."""

import numpy as np

from ..models.bulk_rows import insert_rows
from .heads import head_model, new_heads

BATCH = 2_000
PROGRESS_EVERY = 20_000


def store_new_rows(table, stamp, ids, progress):
    """Store the rows of a table that the database has not, and their heads before them.

    `stamp`: values of all rows. `ids` keeps what was read of other tables, for all tables of a set.
    """
    layout, wanted = table.layout, np.flatnonzero(table.new)
    if layout.head:
        _store_heads(table, wanted, stamp, ids)
        # else the head knows who wrote it
        stamp = stamp if layout.grows else {}
    for start in range(0, len(wanted), PROGRESS_EVERY):
        part = wanted[start : start + PROGRESS_EVERY]
        insert_rows(layout.model, _columns(table, part, ids), stamp)
        progress(f"{table.file}: {start + len(part):,} of {len(wanted):,} rows stored")


def _store_heads(table, numbers, stamp, ids):
    model, code = head_model(table.layout), table.layout.head_code.field.name
    first = new_heads(table, numbers, set(model.objects.order_by().values_list(code, flat=True)))
    of_head = [column for column in table.layout.columns if column.of_head]
    to_others = [column for column in of_head if column.related and column.field.model is model]
    fields = _fields(table, [column for column in of_head if column not in to_others], first, ids)
    heads = model.objects.bulk_create([model(**row, **stamp) for row in _by_row(fields)], batch_size=BATCH)
    for column in to_others:
        _point_to_others(heads, column, _fields(table, [column], first, ids)[column.related.attname])


def _point_to_others(heads, column, keys):
    """Heads may name each other, so all are stored before they do."""
    pointing = [(head, key) for head, key in zip(heads, keys, strict=True) if key is not None]
    for head, key in pointing:
        setattr(head, column.related.attname, key)
    type(heads[0]).objects.bulk_create(
        [head for head, _ in pointing],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[column.related.name],
        batch_size=BATCH,
    )


def _columns(table, numbers, ids):
    """{attribute name: its values} of these rows: what cells say, what follows from it, what checking found."""
    layout = table.layout
    columns = _fields(table, [column for column in layout.columns if not column.of_head], numbers, ids)
    if layout.head:
        heads = ids_of(layout.head_code.field, ids)
        codes = table.values[layout.head_code.name][numbers].tolist()
        columns[layout.model._meta.get_field(layout.head).attname] = [heads[code] for code in codes]
    return columns | _more(layout, columns) | _marks(table, numbers)


def _more(layout, columns):
    """What the layout makes of each row, where it makes anything."""
    if not layout.makes_more:
        return {}
    more = [layout.more(row) for row in _by_row(columns)]
    return {name: [values[name] for values in more] for name in more[0]}


def _marks(table, numbers):
    """Where a field is marked in some of these rows only, the others have its default."""
    marks = [table.marks.get(number, {}) for number in numbers.tolist()] if table.marks else []
    fields = [table.layout.model._meta.get_field(name) for name in dict.fromkeys(name for row in marks for name in row)]
    return {field.attname: [row.get(field.name, field.get_default()) for row in marks] for field in fields}


def _fields(table, columns, numbers, ids):
    """{field: its value in each row}."""
    fields = {}
    for column in columns:
        values = table.values[column.name][numbers].tolist()
        if column.about:
            fields |= _ids_about(table, column, numbers, ids)
        elif column.related:
            codes = ids_of(column.field, ids)
            fields[column.related.attname] = [None if value is None else codes[value] for value in values]
        else:
            fields[column.own_path] = values
    return fields


def _by_row(fields):
    return (dict(zip(fields, values, strict=True)) for values in zip(*fields.values(), strict=True))


def _ids_about(table, column, numbers, ids):
    """{field that points to what the row is about: a key or None for each row}."""
    words = table.values[column.about][numbers].tolist()
    codes = table.values[column.name][numbers].tolist()
    found = {}
    for word in table.layout.column(column.about).words:
        field = table.layout.model._meta.get_field(word)
        known = ids_of(_code_of(field.related_model), ids) if word in words else {}
        rows = zip(words, codes, strict=True)
        found[field.attname] = [known[code] if about == word else None for about, code in rows]
    return found


def _code_of(model):
    return model._meta.get_field(model.key_field().code)


def ids_of(field, ids):
    """{code: primary key} of the model that the field names, read once everything it needs is stored."""
    if field not in ids:
        ids[field] = dict(field.model.objects.order_by().values_list(field.name, "pk"))
    return ids[field]
