"""`due --format csv`: read by spreadsheets, too."""

import csv
import io
from datetime import date

import pytest
from django.core.management import call_command
from factories import make_mat


@pytest.mark.django_db
def test_a_code_that_a_spreadsheet_would_run_gets_an_apostrophe():
    make_mat('=HYPERLINK("x")', fitted=True, fitted_on=date(2020, 3, 1))
    out = io.StringIO()
    call_command("due", "--format", "csv", stdout=out)
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert {row["mat"] for row in rows} == {'\'=HYPERLINK("x")'}
    assert all(float(row["length_m"]) > 0 for row in rows)
