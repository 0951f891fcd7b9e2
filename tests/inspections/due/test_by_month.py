"""Due by month: the bars, the sentence and the table tell the same cables as the list itself."""

import csv
import io
import re
from collections import Counter
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_cable_type,
    make_depot,
    make_event,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)
from hypothesis import given
from hypothesis import strategies as st
from page_words import words_in

from fleet.months import first_of_month, months_after
from inspections.assessment.services import assess_pool
from inspections.due.month_chart import month_chart
from inspections.due.month_selectors import MONTHS_AHEAD, ComingDue, MonthDue
from inspections.models import Assessment

counts = st.integers(0, 400)


@given(months=st.lists(st.tuples(counts, counts, counts), min_size=2, max_size=26), usual=st.floats(0, 500))
def test_a_bar_is_as_high_as_its_cables_and_none_leaves_the_drawing(months, usual):
    firsts = [None, *(months_after(date(2026, 9, 1), ahead) for ahead in range(len(months) - 1))]
    coming = ComingDue(tuple(MonthDue(first, *numbers) for first, numbers in zip(firsts, months, strict=True)), usual)
    chart = month_chart(coming)
    scale = (chart.frame.bottom - chart.frame.top) / max(1, usual, *(month.cables for month in coming.months))
    for bar, month in zip(chart.bars, coming.months, strict=True):
        assert bar.full[1] == pytest.approx(scale * month.seen, abs=0.06)
        assert bar.hollow[1] == pytest.approx(scale * month.by_limit, abs=0.06)
        assert chart.frame.top - 0.2 <= bar.hollow[0] <= bar.full[0] <= chart.frame.bottom
        assert bar.hollow[0] + bar.hollow[1] == pytest.approx(bar.full[0], abs=0.2)
        assert chart.frame.left <= bar.x and bar.x + bar.width <= chart.frame.right
    assert all(one.x + one.width < other.x for one, other in zip(chart.bars, chart.bars[1:], strict=False))


def in_table(page):
    """{month: numbers of its row}"""
    rows = re.findall(r'<tr role="row"><th role="rowheader"[^>]*>(.*?)</th>(.*?)</tr>', page, re.DOTALL)
    return {month: [int(number) for number in re.findall(r">(\d+)</td>", cells)] for month, cells in rows}


def in_file(client, on):
    """{month as the table names it: due cables}, from the file of every cable."""
    lines = b"".join(client.get("/due.csv?status=all").streaming_content).decode()
    days = [date.fromisoformat(row["due_on"]) for row in csv.DictReader(io.StringIO(lines)) if row["due_on"]]
    end = months_after(first_of_month(on), MONTHS_AHEAD + 1)
    return Counter("now" if day <= on else f"{day:%B %Y}" for day in days if day < end)


def aged(mat, position, today, days, **values):
    segment = make_segment(**values)
    fit(segment, mat, position, today - timedelta(days))
    return segment


@pytest.fixture
def pool(today):
    mat, other = make_mat("M-001", depot=make_depot("Quay Street")), make_mat("M-002")
    for position, days in enumerate((1200, 1000, 1000, 400), start=1):
        aged(mat, position, today, days)
    make_reading(aged(other, 1, today, 10), None, today - timedelta(3))
    make_usage_event(mat, make_event(today + timedelta(70)), "planned")
    assess_pool(today)


def page_of(client, today, query=""):
    return client.get(f"/due/?until={today + timedelta(90):%Y-%m-%d}{query}").content.decode()


@pytest.mark.django_db
def test_the_table_and_the_bars_count_what_the_list_names(visitor_client, pool, today):
    page = page_of(visitor_client, today)
    told, listed = in_table(page), in_file(visitor_client, today)
    assert len(told) == MONTHS_AHEAD + 2
    assert {month: numbers[0] for month, numbers in told.items() if numbers[0]} == listed
    assert all(cables == seen + by_limit for cables, seen, by_limit, *_ in told.values())
    assert told["now"][:3] == [2, 1, 1]
    assert [numbers[3] for numbers in told.values() if numbers[3]] == [1]
    drawn = [int(number) for number in re.findall(r"d-number[^>]*>(\d+)</text>", page)]
    assert drawn == [numbers[0] for numbers in told.values() if numbers[0]]


@pytest.mark.django_db
def test_the_sentence_says_when_most_of_them_come(visitor_client, pool, today):
    words = words_in(page_of(visitor_client, today))
    assert "3 cables fall due in the next 24 months. 2 cables are due already. Most of them in" in words
    assert "2, all of them by age or events alone." in words


@pytest.mark.django_db
def test_it_narrows_with_the_filters(visitor_client, pool, today):
    assert in_table(page_of(visitor_client, today, "&status=measure"))["now"][0] == 2
    assert in_table(page_of(visitor_client, today, "&cause=loss"))["now"][0] == 1


@pytest.mark.django_db
def test_queries_do_not_grow_with_cables(visitor_client, pool, today):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            page_of(visitor_client, today)
        return len(captured)

    page_of(visitor_client, today)
    few = queries()
    mat = make_mat("M-003")
    for position in range(1, 5):
        aged(mat, position, today, 900 + 30 * position)
    assess_pool(today)
    page_of(visitor_client, today)
    assert queries() == few


def shelf_in_table(page):
    """{month: (left on the shelf, missing by then)}"""
    return {month: tuple(numbers[4:]) for month, numbers in in_table(page).items()}


@pytest.mark.django_db
def test_the_shelf_goes_down_as_its_kinds_fall_due(visitor_client, today):
    """Worked by hand: of one kind one is due and two lie there, of the other two in a month and one is there."""
    long, short = make_cable_type("long"), make_cable_type("short")
    mat = make_mat("M-001")
    aged(mat, 1, today, 1200, length_m=2.0, cable_type=long)
    for position in (2, 3):
        aged(mat, position, today, 900, length_m=1.0, cable_type=short)
    for length_m, kind in ((2.0, long), (2.0, long), (1.0, short), (7.0, short)):
        make_segment(length_m, cable_type=kind)
    assess_pool(today)
    page = page_of(visitor_client, today)
    told = shelf_in_table(page)
    (due_on,) = set(Assessment.objects.filter(segment__cable_type=short).values_list("due_on", flat=True))
    assert told["now"] == (2, 0)
    assert told[f"{due_on:%B %Y}"] == (1, 1)
    assert f"The first cable is missing on the shelf in {due_on:%B %Y}." in words_in(page)
    assert "d-shelf" in page


@pytest.mark.django_db
def test_of_a_narrowed_list_the_shelf_says_nothing(visitor_client, pool, today):
    make_segment(1.6)
    assert "Left on the shelf" in page_of(visitor_client, today)
    page = page_of(visitor_client, today, "&cause=age")
    assert "Left on the shelf" not in page and "d-shelf" not in page


@given(left=st.lists(st.integers(0, 300), min_size=2, max_size=26))
def test_the_line_of_the_shelf_stays_in_the_drawing_and_steps_down(left):
    left.sort(reverse=True)
    months = tuple(MonthDue(None, 1, 0, 0, number, 0) for number in left)
    chart = month_chart(ComingDue((*months,), 0))
    heights = [float(height) for height in re.findall(r"V([\d.]+)", chart.shelf)]
    ends = [float(end) for end in re.findall(r"H([\d.]+)", chart.shelf)]
    assert (chart.shelf == "") == (left[0] == 0)
    assert heights == sorted(heights) and all(chart.frame.top <= y <= chart.frame.bottom for y in heights)
    assert ends == sorted(ends) and all(x <= chart.frame.right for x in ends)
