"""Whatever stands in a sheet: what is proposed of it can be shown, sent, kept and said again."""

import json
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st
from own_sheet_cases import make_sheet, make_workbook

from inspections.own_sheets.columns.forms import ColumnsForm
from inspections.own_sheets.columns.heading_words import HEADINGS
from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.kept_shapes import kept_meaning, shape_of, to_keep
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.columns.wide_headings import Heading, kind_of_heading
from inspections.own_sheets.meanings import FIELDS, OF_MANY, as_json, from_json

KNOWN = KnownCodes(frozenset(["1", "k1"]), frozenset(["c-1"]), frozenset(["4m/8"]))
WORDS = sorted({word for line in HEADINGS.split("\n") for word in line.partition(": ")[2].split(", ") if word})
CELLS = st.one_of(
    st.none(),
    st.sampled_from(WORDS),
    st.sampled_from(
        ["x", "1-3, K1", "5/3/24", "25.3.24", "May 2024", "Jan", "KW 12", "P1", "total", "4m/8", "3,2 dB", "\0"]
    ),
    st.text(max_size=8),
    st.integers(0, 40),
    st.sampled_from([0.0, 0.41, 2.31, 3.5, 11.25]),
    st.dates(date(2000, 1, 1), date(2030, 1, 1)),
    st.booleans(),
)
FEW = settings(max_examples=50)
SHEETS = st.lists(st.lists(CELLS, max_size=7), max_size=9)


@FEW
@given(SHEETS, st.booleans())
def test_what_is_proposed_is_something_that_can_be_said(rows, hidden):
    sheet = make_sheet(rows, hidden=hidden)
    [meaning] = propose(make_workbook(sheet), {}, KNOWN)
    assert all(column.field in FIELDS[meaning.kind] for column in meaning.columns)
    once = [column.field for column in meaning.columns if column.field not in OF_MANY]
    assert len(once) == len(set(once))
    assert 0 <= meaning.first_row <= meaning.end_row <= max(len(rows), meaning.first_row)
    assert from_json(json.loads(json.dumps(as_json([meaning])))) == (meaning,)


@FEW
@given(SHEETS)
def test_what_the_page_shows_comes_back_as_it_was_shown(rows):
    workbook = make_workbook(make_sheet(rows))
    meanings = propose(workbook, {}, KNOWN)
    shown = ColumnsForm(workbook=workbook, meanings=meanings, known=KNOWN)
    parts = [shown, *shown.sheets, *(build for sheet in shown.sheets for build in sheet.builds)]
    data = {field.html_name: field.value() or "" for part in parts for field in part}
    sent = ColumnsForm(data, workbook=workbook, meanings=meanings, known=KNOWN)
    sent.is_valid()
    assert not sent.is_turned
    if not sent.is_wrong:
        said = [(column.index, column.field) for column in sent.said()[0].columns]
        assert said == [(column.index, column.field) for column in meanings[0].columns]


SENT = st.one_of(
    st.sampled_from(["", "mats", "events", "calendar", "left out", "mat", "as note", "1", "2", "0", "-1", "day first"]),
    st.sampled_from(["mats|1|2", "events||2", "|||", "9" * 30, "٣", "1e3", "\0"]),
    st.text(max_size=5),
)


@FEW
@given(SHEETS, st.data())
def test_whatever_is_sent_is_answered(rows, data):
    workbook = make_workbook(make_sheet(rows))
    meanings = propose(workbook, {}, KNOWN)
    shown = ColumnsForm(workbook=workbook, meanings=meanings, known=KNOWN)
    names = [field.html_name for part in (shown, *shown.sheets) for field in part]
    sent = data.draw(st.fixed_dictionaries({}, optional=dict.fromkeys(names, SENT)))
    form = ColumnsForm(sent, workbook=workbook, meanings=meanings, known=KNOWN)
    is_right = form.is_valid()
    said = form.turned() if form.is_turned else form.said() if is_right else meanings
    again = ColumnsForm(workbook=workbook, meanings=said, known=KNOWN)
    assert [sheet.meaning for sheet in again.sheets] == list(said)
    assert all(column.field in FIELDS[each.kind] or column.note for each in said for column in each.columns)


@FEW
@given(SHEETS)
def test_what_is_kept_of_a_sheet_says_the_same_of_it_again(rows):
    sheet = make_sheet(rows)
    workbook = make_workbook(sheet)
    meanings = propose(workbook, {}, KNOWN)
    kept = json.loads(json.dumps({shape: said for shape, (_, said) in to_keep(workbook, meanings).items()}))
    again = kept_meaning(sheet, kept)
    if shape_of(sheet, meanings[0].header_row) is None:
        assert again is None
    elif again.header_row == meanings[0].header_row:
        said = fields_of(meanings[0])
        assert said >= fields_of(again)
        assert all(has_wide_heading(sheet, again.header_row, column) for column, _ in said - fields_of(again))


def fields_of(meaning):
    return {(column.index, column.field) for column in meaning.columns}


def has_wide_heading(sheet, row, column):
    """Columns under days or positions beside each other are kept as one, where the same is said of them."""
    return kind_of_heading(sheet.texts[row, column].strip(), sheet.kinds[row, column]) is not Heading.OTHER
