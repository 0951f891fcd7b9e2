"""Differences that are to be stored, as corrections of the rows that are there."""

from collections import defaultdict

from ..services.load_corrections import correct_by_load

ASKED_AT_ONCE = 500


def correct_stored(files, load, code_ids):
    """Correct what the set's differences change, in the order of the layouts.

    `code_ids(field)` gives {code: key} of the model that the field names.
    """
    changes = defaultdict(lambda: defaultdict(dict))
    for difference in files.differences:
        if difference.changes:
            fields = _fields(files.layout(difference.file), difference, code_ids)
            changes[difference.file][difference.key] |= fields
    for file, rows in changes.items():
        layout = files.layout(file)
        keys = _row_keys(layout, rows)
        by_row = {keys[key]: values for key, values in rows.items()}
        correct_by_load(load, layout.model, by_row, on=files.on)


def changed_rows(files, file):
    """The numbers of the rows of a file that correct what is stored."""
    return {difference.row for difference in files.differences if difference.file == file and difference.changes}


def _fields(layout, difference, code_ids):
    """{field: value} of a cell."""
    column, value = layout.column(difference.column), difference.given
    if column.related:
        return {column.related.attname: None if value is None else code_ids(column.field)[value]}
    # a word beside a number belongs to several fields
    return layout.more({column.path: value}) if column.word_path else {column.path: value}


def _row_keys(layout, keys):
    """{the key of a row in its file: its key in the database}."""
    first, found = layout.key[0].path, {}
    wanted = sorted({key[0] for key in keys if key[0] is not None})
    parts = [{f"{first}__in": wanted[n : n + ASKED_AT_ONCE]} for n in range(0, len(wanted), ASKED_AT_ONCE)]
    for part in [*parts, {f"{first}__isnull": True}]:
        rows = layout.stored_rows().filter(**part).values_list(*(column.path for column in layout.key), "pk")
        found |= {tuple(key): pk for *key, pk in rows}
    return found
