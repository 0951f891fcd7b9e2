"""Differences that are to be stored, as corrections of the rows that are there."""

from collections import defaultdict

from ..services.load_corrections import correct_by_load, settle_days, settle_rest

ASKED_AT_ONCE = 500


class Corrections:
    """What the differences of a set change, file by file: each before its new rows, which may take what gets free.

    `code_ids(field)` gives {code: key} of the model that the field names.
    """

    def __init__(self, files, load, code_ids):
        self.files, self.load, self.code_ids, self.rows = files, load, code_ids, []
        self.cells = defaultdict(list)
        for difference in files.differences:
            if difference.changes:
                self.cells[difference.file].append(difference)
        # found before anything is corrected: by then codes may be others
        self.row_keys = {file: self._row_keys(file, cells) for file, cells in self.cells.items()}

    def apply(self, layout):
        """Correct the rows of one file."""
        changes = defaultdict(dict)
        for difference in self.cells.get(layout.file, ()):
            changes[difference.key] |= self._fields(layout, difference)
        if changes:
            keys = self.row_keys[layout.file]
            by_row = {keys[key]: values for key, values in changes.items()}
            self.rows += correct_by_load(self.load, layout.model, by_row)

    def _row_keys(self, file, cells):
        return _row_keys(self.files.layout(file), {difference.key for difference in cells})

    def settle_days(self):
        """Before new use of mats is stored, the days of what was corrected are free, or taken."""
        settle_days(self.rows)

    def settle_rest(self):
        """Once all is stored."""
        if self.rows:
            settle_rest(self.rows, by=self.load.loaded_by, on=self.files.on)

    def _fields(self, layout, difference):
        """{field: value} of a cell."""
        column, value = layout.column(difference.column), difference.given
        if column.related:
            return {column.related.attname: None if value is None else self.code_ids(column.field)[value]}
        # a word beside a number belongs to several fields
        return layout.more({column.path: value}) if column.word_path else {column.path: value}


def changed_rows(files, file):
    """The numbers of the rows of a file that correct what is stored."""
    return {difference.row for difference in files.differences if difference.file == file and difference.changes}


def _row_keys(layout, keys):
    """{the key of a row in its file: its key in the database}."""
    first, found = layout.key[0].path, {}
    wanted = sorted({key[0] for key in keys if key[0] is not None})
    parts = [{f"{first}__in": wanted[n : n + ASKED_AT_ONCE]} for n in range(0, len(wanted), ASKED_AT_ONCE)]
    for part in [*parts, {f"{first}__isnull": True}]:
        rows = layout.stored_rows().filter(**part).values_list(*(column.path for column in layout.key), "pk")
        found |= {tuple(key): pk for *key, pk in rows}
    return found
