"""`due --format csv`: read by spreadsheets, too."""

import csv
import io
from datetime import date

import pytest
from django.core.management import call_command
from factories import fit, make_many_cables, make_mat, make_plain_design, make_plain_segment


@pytest.mark.django_db
def test_a_code_that_a_spreadsheet_would_run_gets_an_apostrophe():
    make_mat('=HYPERLINK("x")', fitted=True, fitted_on=date(2020, 3, 1))
    out = io.StringIO()
    call_command("due", "--format", "csv", stdout=out)
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert {row["mat"] for row in rows} == {'\'=HYPERLINK("x")'}
    assert all(float(row["length_m"]) > 0 for row in rows)


@pytest.mark.django_db
def test_a_pool_of_which_nothing_is_known_is_not_told_that_nothing_is_due(today):
    mat = make_mat("6", design=make_plain_design(2))
    for position in (1, 2):
        fit(make_plain_segment(), mat, position, today, fitted_basis="not later than")
    out = io.StringIO()
    call_command("due", stdout=out)
    assert out.getvalue().splitlines() == [
        f"As of {today}: 0 segments.",
        "Not listed here: 2 unknown. Write --all to list every segment.",
    ]


@pytest.mark.django_db
def test_all_cables_of_a_pool_of_more_than_a_thousand_are_listed():
    make_many_cables(mats=13, each=77)
    out = io.StringIO()
    call_command("due", "--all", "--format", "csv", stdout=out)
    assert len(list(csv.DictReader(io.StringIO(out.getvalue())))) == 1_001


@pytest.mark.django_db
def test_a_mat_of_bare_digits_is_called_a_mat(today):
    fit(make_plain_segment(), make_mat("6", design=make_plain_design(1)), 1, date(2020, 3, 1))
    out = io.StringIO()
    call_command("due", stdout=out)
    assert out.getvalue().splitlines()[1].endswith("  mat 6 position 1")
