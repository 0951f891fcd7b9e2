"""Files against rows that the pool has already: what differs, and what becomes of it."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fleet.intake import FILL_EMPTY, LAYOUTS, RULES, Answer, Differing, RawTable, check_files, store_files
from fleet.models import Mat
from tests.pool_files import pool_files

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 24)
MATS = "mat,design,depot,owner,acquired_on\n"


@pytest.fixture
def pool():
    store_files(check_files(pool_files(), LAYOUTS, RULES, on=ON), by=None)


def check(differing, **files):
    contents = {f"{name}.csv": text.encode() for name, text in files.items()}
    return check_files(contents, LAYOUTS, RULES, on=ON, differing=differing)


def said(files):
    return [(d.file, d.line, d.column, d.stored, d.given, str(d.becomes)) for d in files.differences]


def test_a_table_of_cells_is_checked_as_the_bytes_of_a_file_are():
    cells = {name: np.array(column, dtype=object) for name, column in {"depot": ["A", "B"], "mail": ["", "x"]}.items()}
    table = RawTable("depots.csv", "0" * 64, np.array([4, 9]), cells, False)
    (error,) = check_files({"depots.csv": table}, LAYOUTS, RULES, on=ON).errors.in_order()
    assert (error.line, error.column, error.found) == (9, "mail", "“x”")
    sound = replace(table, cells=cells | {"mail": np.array(["", "b@example.org"], dtype=object)})
    assert check_files({"depots.csv": sound}, LAYOUTS, RULES, on=ON).table("depots.csv").new.tolist() == [True, True]


@pytest.mark.parametrize(
    "differing, owners",
    [
        (Differing(Answer.KEEP), [("pool", Answer.KEEP), ("", Answer.KEEP)]),
        (Differing(Answer.REPLACE), [("pool", Answer.REPLACE), ("", Answer.REPLACE)]),
        (Differing(Answer.FILL), [("pool", Answer.KEEP), ("", Answer.FILL)]),
        (Differing(Answer.KEEP, {("mats.csv", "owner"): Answer.FILL}), [("pool", Answer.KEEP), ("", Answer.FILL)]),
        (FILL_EMPTY, [("pool", Answer.REFUSE), ("", Answer.FILL)]),
        (Differing(), [("pool", Answer.REFUSE), ("", Answer.REFUSE)]),
    ],
)
def test_each_column_says_what_becomes_of_its_cells_that_differ(pool, differing, owners):
    files = check(differing, mats=MATS + "M-1,four,Quay Street,wren,2024-01-05\nM-2,four,,wren,\n")
    assert [(d.stored, d.becomes) for d in files.differences] == owners
    assert files.errors.count == sum(becomes == Answer.REFUSE for _, becomes in owners)


def test_an_empty_cell_says_nothing_unless_what_differs_is_refused(pool):
    row = MATS + "M-1,four,,,\n"
    assert said(check(Differing(Answer.REPLACE), mats=row)) == []
    assert [d.column for d in check(Differing(), mats=row).differences] == ["depot", "owner", "acquired_on"]


def test_rules_see_a_row_that_is_there_as_it_will_be(pool):
    """The fitting of C-2 ended; a file that leaves removed_on out says nothing else, and its place is free."""
    text = "segment,fitted_on,mat,position\nC-2,2024-02-01,M-1,2\nC-3,2025-03-01,M-1,2\n"
    files = check(Differing(), fittings=text)
    assert not files.errors, files.errors.in_order()
    assert files.table("fittings.csv").new.tolist() == [False, True]
    assert Mat.objects.count() == 2
