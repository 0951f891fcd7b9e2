"""A set of files checked whole: each by itself, against each other, and against the database."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, partial

import numpy as np

from ..models.fields import code_key
from . import kinds
from .codes_about import settle_codes_about
from .csv_files import RawTable, read_csv
from .differing import REFUSE_ALL, Differing, compare_with_stored
from .findings import Findings, same_but_capitals
from .heads import refuse_more_of_stored_heads, refuse_unlike_heads
from .tables import checked_table


def quiet(text):
    """Progress that nobody reads."""


@dataclass
class FileSet:
    """Tables of the files given, and what was found in them.

    `unusual`: values that are not stored before somebody says that they are meant. `differences`: each `Difference`
    between a row and what is stored of it, and what becomes of it by `differing`.
    """

    layouts: tuple
    on: date
    tables: dict
    errors: Findings
    warnings: Findings
    unusual: Findings
    unread: frozenset = frozenset()
    differing: Differing = REFUSE_ALL
    differences: list = field(default_factory=list)

    @property
    def changes(self):
        """Whether any difference corrects what is stored."""
        return any(difference.changes for difference in self.differences)

    def table(self, file):
        return self.tables.get(file)

    @cached_property
    def _read(self):
        return {}

    def corrected_cells(self, file):
        """{column: the rows in which it corrects what is stored} of a file."""
        cells = {}
        for difference in self.differences:
            if difference.file == file and difference.changes:
                cells.setdefault(difference.column, []).append(difference.row)
        return cells

    def layout(self, file):
        return next(layout for layout in self.layouts if layout.file == file)

    def stored_codes(self, model):
        """{key: code} of every row of the model that the database has."""
        if ("stored", model) not in self._read:
            key = model.key_field()
            self._read["stored", model] = dict(model.objects.order_by().values_list(key.name, key.code))
        return self._read["stored", model]

    def codes(self, file):
        """Every code that `file` or the database knows."""
        if ("codes", file) not in self._read:
            key = self.layout(file).code_column
            codes = set(self.stored_codes(key.field.model).values())
            table = self.table(file)
            if table is not None:
                codes.update(table.values[key.name][table.sound[key.name]])
            self._read["codes", file] = codes
        return self._read["codes", file]

    def known(self, file, *names):
        """{key: value} over database and file; of several names, a tuple of values. A single key is bare."""
        if (file, names) not in self._read:
            layout = self.layout(file)
            columns = [*layout.key, *(layout.column(name) for name in names)]
            rows = list(layout.values_of(layout.stored_rows(), columns, at_a_time=10_000))
            if self.table(file) is not None:
                rows += [row for _, *row in self.table(file).rows(*(column.name for column in columns))]
            keys = len(layout.key)
            self._read[file, names] = {_bare(row[:keys]): _bare(row[keys:]) for row in rows}
        return self._read[file, names]

    def can_follow(self, *files):
        """False when one of the files was given but could not be read, so that what refers to it is not judged."""
        return not self.unread.intersection(files)


def _bare(values):
    return values[0] if len(values) == 1 else tuple(values)


def check_files(
    contents, layouts, rules, *, on, differing=REFUSE_ALL, meant=False, progress: Callable[[str], None] = quiet
):
    """The FileSet of `{file name: bytes or RawTable}`; `rules` are functions of the set that add what they find.

    `differing` says what becomes of rows that are stored otherwise. `meant`: somebody said that unusual values are;
    they are warnings then.
    """
    files = FileSet(tuple(layouts), on, {}, Findings(), Findings(), Findings(), differing=differing)
    raws = _raw_tables(contents, layouts, files.errors)
    for layout in layouts:
        raw = raws.get(layout.file)
        if raw is not None:
            files.tables[layout.file] = checked_table(layout, raw, on, files.errors)
            progress(f"{layout.file}: {len(raw):,} rows read")
    files.unread = frozenset(raws) - set(files.tables)
    _spell_codes_alike(files)
    for table in files.tables.values():
        settle_codes_about(files, table)
        refuse_unlike_heads(files, table)
    for table in files.tables.values():
        _refuse_unknown_codes(files, table)
    for table in files.tables.values():
        compare_with_stored(files, table, partial(_is_blank, raws[table.file]))
        refuse_more_of_stored_heads(files, table)
    for rule in rules:
        rule(files)
    for table in files.tables.values():
        _find_unusual(files, table, files.warnings if meant else files.unusual)
    progress(f"checked; errors: {files.errors.count:,}, notes: {files.warnings.count:,}")
    return files


def _raw_tables(contents, layouts, errors):
    """{file: its RawTable, or None where its bytes cannot be read}, in the order of the layouts."""
    raws = {}
    for layout in layouts:
        content = contents.get(layout.file)
        if content is not None:
            raws[layout.file] = content if isinstance(content, RawTable) else read_csv(layout, content, errors)
    return raws


def _is_blank(raw, column, row):
    return not raw.cells[column][row].strip()


def _spell_codes_alike(files):
    """Each code as the database writes it, else as the first of the files does: capitals make no other code."""
    spellings = {}
    for table in files.tables.values():
        for column in table.given:
            if column.kind is kinds.CODE and not column.about:
                model = column.field.model
                known = spellings.setdefault(model, dict(files.stored_codes(model)))
                pairs = ((code, known.setdefault(code_key(code), code)) for code in table.codes(column.name))
                _respell(files, table, column.name, {code: spelled for code, spelled in pairs if code != spelled})


def _respell(files, table, name, spelled):
    if not spelled:
        return
    written = table.values[name].tolist()
    for code, known in spelled.items():
        line = table.lines[written.index(code)]
        files.warnings.add(table.file, line, name, f"“{code}”", same_but_capitals(known))
    table.values[name] = np.array([spelled.get(code, code) for code in written], dtype=object)


def _refuse_unknown_codes(files, table):
    for column in table.given:
        if not column.refers_to or not files.can_follow(column.refers_to):
            continue
        values, known = table.values[column.name], files.codes(column.refers_to)
        unknown = np.array([value is not None and value not in known for value in values], dtype=bool)
        for row in np.flatnonzero(unknown & table.sound[column.name]):
            expected = f"a {column.name} of {column.refers_to}, or one that is stored already"
            table.refuse(files.errors, row, column.name, f"“{values[row]}”", expected)


def _find_unusual(files, table, found):
    """What is there already was meant when it was stored."""
    corrected = files.corrected_cells(table.file)
    for column in table.given:
        if column.limit is None:
            continue
        values, usual = table.values[column.name], {}
        rows = np.flatnonzero(table.sound[column.name] & ~table.existing).tolist()
        rows += [row for row in corrected.get(column.name, ()) if table.sound[column.name][row]]
        for row in sorted(rows):
            value = values[row]
            key = tuple(value) if isinstance(value, list) else value
            if key not in usual:
                usual[key] = "" if value is None or column.is_word(value) else column.limit.unusual(value, files.on)
            if usual[key]:
                found.add(table.file, table.lines[row], column.name, f"“{column.write(value)}”", usual[key])
