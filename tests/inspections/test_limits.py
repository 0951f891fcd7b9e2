"""The table of limits, row by row: the absurd is refused by model, form and file alike, the unusual asks."""

import csv
import io
import math
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django import forms
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pool_files import FILES, FULL, pool_files

from fleet.forms.asking import asks_of
from fleet.forms.fields import CountField, DayField, NumberField, NumbersField
from fleet.limits import CABLE_LENGTH, EVENT_DAY, PRICE, DayLimit, Limit
from fleet.models.trail import Recorded
from inspections.bench.pieces.forms import ShownLossField
from inspections.files.loading import check_pool_files
from inspections.files.sets import LAYOUTS
from inspections.limits import FREQUENCY, READING_LOSS, TEMPERATURE
from inspections.project import urls  # noqa: F401 - it imports every form
from inspections.validators import parse_loss

ON = date(2026, 9, 30)
YEARS = "cannot be right: write one from 1900 to 2199."
AHEAD = "A day of an event is mostly from 1950 to 3 years ahead."
MEASURED = (models.FloatField, models.DateField, models.PositiveSmallIntegerField, models.PositiveIntegerField)
# a position is one that the design has, a policy value lies in the range of its setting, a version and the day on which
# a value was cleared are the app's own
OTHER_RULE = {
    ("Fitting", "position"),
    ("Fault", "position"),
    ("PolicyValue", "position"),
    ("PolicyValue", "value"),
    ("PolicyValue", "cleared_on"),
    # counted by the app
    ("BatchValue", "cable"),
    ("BatchValue", "attempt"),
    ("StockEntry", "number"),
    ("StockEntry", "left"),
    ("UsedLimits", "due_before"),
    ("UsedLimits", "due_after"),
    # read from the file of the sweep
    ("Sweep", "size_bytes"),
    ("Sweep", "points"),
    ("Sweep", "from_mhz"),
    ("Sweep", "to_mhz"),
    ("Sweep", "averaged_from_mhz"),
    ("Sweep", "averaged_to_mhz"),
}
# what is only looked for, and what is no value of a row
NO_ROW = {"SegmentFilter.length_m", "DueFilterForm.until", "MatConditionFilter.day", "WeekFilter.week"}
# rules that are tried and not stored: each field has its own range
NO_ROW |= {"TrialForm.events", "TrialForm.per_mat", "TrialForm.per_reading"}


def recorded_models():
    ours = [model for app in ("fleet", "inspections") for model in apps.get_app_config(app).get_models()]
    return [model for model in ours if issubclass(model, Recorded)]


def subclasses(form):
    for child in form.__subclasses__():
        yield child
        yield from subclasses(child)


FORM_FIELDS = {
    f"{form.__name__}.{name}": field
    for form in subclasses(forms.Form)
    if form.__module__.startswith(("fleet", "inspections"))
    for name, field in form.base_fields.items()
    if isinstance(field, (CountField, DayField, NumberField, NumbersField))
}
ROWS = [(model, name, limit) for model in recorded_models() for name, limit in model.limits.items()]
COLUMNS = [(layout, column) for layout in LAYOUTS for column in layout.columns if column.limit]
NUMBERS = [row for row in ROWS if isinstance(row[2], Limit)]


def named(row):
    return f"{row[0].__name__}.{row[1]}"


def column_of(model, name):
    found = [column for layout, column in COLUMNS if layout.model is model and column.path == name]
    return found[0] if found else None


def fields_of(name, limit):
    """The form fields of that name that have the limit."""
    fields = [field for key, field in FORM_FIELDS.items() if key.endswith(f".{name}") and field.limit is limit]
    # typed as at the bench, where a minus and `dB` may stand: tried below
    return [field for field in fields if not isinstance(field, ShownLossField)]


def refused_by(check, *values):
    try:
        check(*values)
    except ValidationError:
        return True
    return False


def model_refuses(model, name, value):
    """Whether the row's own check names the field; the fields left empty are of no interest."""
    row = model(**{name: [value] if name == "folds_m" else value})
    others = [field.name for field in model._meta.fields if field.name != name]
    return refused_by(row.clean_fields, others)


def verdicts(model, name, limit, value):
    """Whether model, file and form refuse the value, each as it is written there."""
    text = value.isoformat() if isinstance(value, date) else repr(value) if isinstance(value, float) else str(value)
    column = column_of(model, name)
    yield model_refuses(model, name, value)
    if column:
        yield refused_by(column.read, text, False, date(2199, 12, 31))
    for field in fields_of(name, limit):
        yield refused_by(field.clean, text)


def numbers(limit, low, high):
    """Numbers between the two, as the limit takes them."""
    if limit.whole:
        return st.integers(math.ceil(low), math.floor(high))
    if limit is PRICE:
        # whole hundredths, as money has them; more of them is refused by another rule
        return st.integers(math.ceil(low * 100), math.floor(high * 100)).map(
            lambda hundredths: Decimal(hundredths) / 100
        )
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize("row", NUMBERS, ids=named)
@settings(max_examples=25)
@given(data=st.data())
def test_absurd_numbers_are_refused_by_model_file_and_form(row, data):
    model, name, limit = row
    assert limit.absurd_below <= limit.unusual_below <= limit.unusual_above <= limit.absurd_above
    above = numbers(limit, limit.absurd_above + 1, 1e300 if not limit.whole else 10**30)
    below = numbers(limit, -1e300 if not limit.whole else -(10**30), limit.absurd_below - 1)
    between = st.just(limit.absurd_below / 2) if limit.absurd_below > 0 and not limit.whole else st.nothing()
    value = data.draw(st.one_of(above, below, between))
    assert all(verdicts(model, name, limit, value)), value


@pytest.mark.parametrize("row", NUMBERS, ids=named)
@settings(max_examples=25)
@given(data=st.data())
def test_what_is_not_absurd_is_refused_by_none(row, data):
    model, name, limit = row
    value = data.draw(numbers(limit, limit.absurd_below, limit.absurd_above))
    assert not any(verdicts(model, name, limit, value)), value


@pytest.mark.parametrize("row", [row for row in ROWS if isinstance(row[2], DayLimit)], ids=named)
@settings(max_examples=20)
@given(day=st.dates())
@example(day=date(1, 1, 1))
@example(day=date(26, 5, 2))
@example(day=date(1899, 12, 31))
@example(day=date(1900, 1, 1))
@example(day=date(2199, 12, 31))
@example(day=date(2200, 1, 1))
@example(day=date(9999, 12, 31))
def test_years_that_nobody_means_are_refused_by_model_file_and_form(row, day):
    model, name, limit = row
    assert set(verdicts(model, name, limit, day)) == {not 1900 <= day.year <= 2199}


@given(value=st.floats(-1e300, 1e300))
@example(value=99.99)
@example(value=100.0)
def test_a_loss_typed_at_the_bench_has_the_limit_of_the_stored_one(value):
    typed = f"{value:.12f}"
    refused = refused_by(READING_LOSS.check, abs(float(typed)))
    assert [refused_by(parse_loss, typed), refused_by(ShownLossField().clean, typed)] == [refused, refused]


def test_every_number_and_day_of_a_record_has_a_row_in_the_table():
    stored = {
        (model.__name__, field.name)
        for model in recorded_models()
        for field in model._meta.concrete_fields
        if isinstance(field, MEASURED) and not isinstance(field, models.DateTimeField) and field.name != "version"
    }
    limited = {(model.__name__, name) for model, name, _ in ROWS} - {("MatDesign", "folds_m")}
    assert stored - limited == OTHER_RULE
    assert {key for key, field in FORM_FIELDS.items() if field.limit is None} == NO_ROW


def test_a_field_of_a_form_has_the_limit_of_the_column_it_fills():
    """By name: a form field called like a column of one of the models takes one of their limits."""
    limits = {}
    for _, name, limit in ROWS:
        limits.setdefault(name, set()).add(limit)
    # what a person types is dated up to today; files also bring days that were planned
    past = {"withdrawn_on", "ended_on"}
    wrong = {
        key
        for key, field in FORM_FIELDS.items()
        if (name := key.split(".")[1]) in limits and name not in past and field.limit not in limits[name] | {None}
    }
    assert wrong == set()


def unusual_of(limit):
    """A few values that are unusual and not absurd, at both ends where there are two."""
    if isinstance(limit, DayLimit):
        return [date(1949, 12, 31), *([ON.replace(year=2029) + timedelta(days=1)] if limit.ahead else [])]
    if not limit.asks:
        return []
    step = 1 if limit.whole else 0
    low = limit.unusual_below - step if limit.whole else (limit.absurd_below + limit.unusual_below) / 2
    high = limit.unusual_above + step if limit.whole else (limit.unusual_above + limit.absurd_above) / 2
    wide = [limit.absurd_below < limit.unusual_below, limit.unusual_above < limit.absurd_above]
    return [value for value, there in zip((low, high), wide, strict=True) if there]


@pytest.mark.parametrize("key", [key for key, field in FORM_FIELDS.items() if field.limit])
def test_a_form_asks_about_each_unusual_value_and_about_no_usual_one(key):
    field = FORM_FIELDS[key]
    one_field = type("OneField", (forms.Form,), {"it": field})
    for value in unusual_of(field.limit):
        form = one_field({"it": str(value)})
        assert form.is_valid()
        (sentence,) = asks_of(form, ON)
        shown = f"{value:.12g}" if isinstance(value, float) else str(value)
        assert sentence.startswith(f"{form['it'].label}: {shown}. ")
    usual = ON if isinstance(field.limit, DayLimit) else field.limit.unusual_above
    form = one_field({"it": str(usual)})
    assert form.is_valid()
    assert asks_of(form, ON) == []


def with_cell(layout, column, value):
    """The small pool, with this value in the first row of a column."""
    name, base = layout.file.removesuffix(".csv"), {} if layout.file in FILES else FULL
    rows = list(csv.DictReader(io.StringIO(FILES.get(layout.file) or FULL[name])))
    rows[0][column.name] = column.write([value] if column.name == "folds_m" else value)
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return pool_files(**base | {name: out.getvalue()})


def places(findings):
    return [(found.file, found.line, found.column) for found in findings.in_order()]


CELLS = [(layout, column, value) for layout, column in COLUMNS for value in unusual_of(column.limit)]


@pytest.mark.django_db
@pytest.mark.parametrize("cell", CELLS, ids=lambda cell: f"{cell[0].file}-{cell[1].name}-{cell[2]}")
def test_a_file_with_an_unusual_value_is_held_back_at_its_cell(cell):
    layout, column, value = cell
    contents = with_cell(layout, column, value)
    cell, files = (layout.file, 2, column.name), check_pool_files(contents, on=ON)
    if cell in places(files.errors):
        return  # two days or numbers that do not fit each other
    assert places(files.unusual) == [cell]
    meant = check_pool_files(contents, on=ON, meant=True)
    assert (places(meant.unusual), cell in places(meant.warnings)) == ([], True)


@pytest.mark.parametrize("limit, value, says", [
        (CABLE_LENGTH, 125.0, "A cable length is mostly 0.05 to 20 m. Did you mean 1.25 m (125 cm) or 0.125 m (125 "),
        (CABLE_LENGTH, 1250.0, "A cable length is a number of m from 0.005 to 1000. Did you mean 12.5 m (1250 cm) or"),
        (CABLE_LENGTH, 0.02, "A cable length is mostly 0.05 to 20 m."),
        (FREQUENCY, 0.9, "A frequency is a number of MHz from 1 to 10000. Did you mean 900 MHz (0.9 GHz)?"),
        (TEMPERATURE, 68.0, "A temperature is mostly -20 to 45 °C. Did you mean 20 °C (68 °F)?"),
        (EVENT_DAY, date(26, 5, 2), f"0026 {YEARS} Did you mean 2 May 2026?"),
        (EVENT_DAY, date(3026, 5, 2), f"3026 {YEARS} Did you mean 2 May 2026?"),
        (EVENT_DAY, date(202, 5, 2), f"0202 {YEARS} Did you mean 2 May 2002?"),
        (EVENT_DAY, date(1926, 5, 2), f"{AHEAD} Did you mean 2 May 2026?"),
        (EVENT_DAY, date(2062, 5, 2), f"{AHEAD} Did you mean 2 May 2026?"),
        (EVENT_DAY, date(2104, 2, 29), f"{AHEAD} Did you mean 29 Feb 2004?"),
])  # fmt: skip
def test_a_slip_is_named_with_what_was_meant(limit, value, says):
    try:
        limit.check(value)
        said = limit.unusual(value, ON)
    except ValidationError as error:
        said = error.messages[0]
    assert said.removeprefix("The year ").startswith(says)


@given(day=st.dates(), on=st.dates(date(2000, 1, 1), date(2150, 1, 1)))
def test_a_day_that_is_proposed_is_a_usual_one(day, on):
    usual = EVENT_DAY.unusual(day, on)
    if "Did you mean" in usual:
        assert EVENT_DAY.unusual(datetime.strptime(usual.rpartition("mean ")[2], "%d %b %Y?").date(), on) == ""
