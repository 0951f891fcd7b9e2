"""Out and in: what the old cable lost last, what the new one lost first, and what is said of both."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_design, make_mat, make_reading, make_segment
from page_words import words_in

from fleet.models import CableSegment
from inspections.assessment.policy_in_force import current_policy
from inspections.trend.change_chart import change_chart
from inspections.trend.change_selectors import changes_of_cables

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat():
    return make_mat("M-1", design=make_design(lengths_m=(0.6, 1.1, 1.6, 2.1)))


def change(mat, position, day, out_db=None, in_db=None, no_signal=False, **values):
    """One cable out and withdrawn on that day, another in; with the last reading of the one, the first of the other."""
    old, new = make_segment(**values), make_segment(**values)
    fit(old, mat, position, day - timedelta(900))
    mat.fittings.filter(segment=old).update(removed_on=day)
    CableSegment.objects.filter(pk=old.pk).update(withdrawn_on=day, withdrawal_reason="worn")
    fit(new, mat, position, day)
    if out_db or no_signal:
        make_reading(old, 9.9 if out_db else 1.0, day - timedelta(400), temperature_c=20)
        make_reading(old, out_db, day - timedelta(5), temperature_c=20)
    if in_db:
        make_reading(new, in_db, day + timedelta(1), temperature_c=20, taken="at fitting")
        make_reading(new, in_db + 1, day + timedelta(9), temperature_c=20)
    return old, new


def told(today):
    return changes_of_cables(today, current_policy())


def test_the_last_reading_of_the_old_stands_beside_the_first_of_the_new(mat, today):
    change(mat, 1, today - timedelta(40), 3.2, 1.3)
    change(mat, 2, today - timedelta(30), 2.0, 2.1)
    change(mat, 3, today - timedelta(20), no_signal=True)
    change(mat, 4, today - timedelta(20))
    changes = told(today)
    rows = [(row.position, row.out_db, row.no_signal, row.in_db) for row in changes.rows]
    assert rows == [(1, 3.2, False, 1.3), (2, 2.0, False, 2.1), (3, None, True, None), (4, None, False, None)]
    assert (len(changes.read), len(changes.over), len(changes.pairs)) == (3, 2, 2)
    assert changes.gained_db == pytest.approx((1.9 - 0.1) / 2)


def test_a_reading_at_other_temperature_is_brought_to_the_reference(mat, today):
    old, _ = change(mat, 1, today - timedelta(40))
    make_reading(old, 1.02, today - timedelta(41), temperature_c=30)
    # design section 4: 0.2 % a degree, so 1.02 dB at 30 °C are 1.00 dB at 20 °C
    assert told(today).rows[0].out_db == pytest.approx(1.0)


def test_a_cable_that_went_on_elsewhere_or_left_its_place_empty_was_not_changed(mat, today):
    day = today - timedelta(40)
    moved, _ = change(mat, 1, day, 2.0, 1.0)
    fit(moved, make_mat("M-2"), 1, day + timedelta(3))
    emptied = make_segment()
    fit(emptied, mat, 2, day - timedelta(900))
    mat.fittings.filter(segment=emptied).update(removed_on=day)
    CableSegment.objects.filter(pk=emptied.pk).update(withdrawn_on=day, withdrawal_reason="worn")
    assert told(today).rows == ()


def test_doubtful_and_void_readings_do_not_speak(mat, today):
    old, new = change(mat, 1, today - timedelta(40))
    make_reading(old, 2.0, today - timedelta(41), doubt_reason="loose")
    make_reading(new, 1.0, today - timedelta(39), voided_on=today - timedelta(1), void_reason="wrong cable")
    (row,) = told(today).rows
    assert (row.out_db, row.in_db) == (None, None)


def test_the_page_says_whether_it_helped_and_shows_the_same_in_a_table(visitor_client, mat, today):
    change(mat, 1, today - timedelta(40), 3.2, 1.3)
    change(mat, 2, today - timedelta(30), 2.0, 1.1)
    page = visitor_client.get("/pool/").content.decode()
    words = words_in(page)
    assert "Of 2 changed cables 2 were measured before they came out: 1 over 3.00 dB or without signal" in words
    assert "1 still within. Where both were measured (2 changes), the new cable lost 1.40 dB less" in words
    rows = re.findall(r'data-label="Old">([\d.]+)</td>\s*<td[^>]*>([\d.]+)</td>', page)
    assert rows == [("3.20", "1.30"), ("2.00", "1.10")]


def test_points_stand_where_the_numbers_of_the_table_are(mat, today):
    for number, (out_db, in_db) in enumerate(((3.2, 1.3), (2.0, 1.1), (2.6, 2.6)), start=1):
        change(mat, number, today - timedelta(40), out_db, in_db)
    changes = told(today)
    chart = change_chart(changes)
    per_db = (chart.loss_ticks[0][0] - chart.loss_ticks[-1][0]) / (chart.loss_ticks[-1][1] - chart.loss_ticks[0][1])
    base_y, base_db = chart.loss_ticks[0]

    def read_off(path):
        places = [tuple(map(float, place.split())) for place in re.findall(r"M([\d.]+ [\d.]+)h0", path)]
        return [round(base_db + (base_y - y) / per_db, 2) for _, y in sorted(places)]

    assert read_off(chart.out_dots) == pytest.approx([2.0, 2.6, 3.2], abs=0.01)
    assert read_off(chart.in_dots) == pytest.approx([1.1, 2.6, 1.3], abs=0.01)
    assert all(chart.frame.top <= y <= chart.frame.bottom for y, _ in chart.loss_ticks)


def test_without_a_reading_nothing_is_drawn_and_that_is_said(visitor_client, mat, today):
    change(mat, 1, today - timedelta(40))
    assert change_chart(told(today)) is None
    assert "1 cable changed, and none was measured before it came out." in words_in(
        visitor_client.get("/pool/").content.decode()
    )


def test_queries_do_not_grow_with_changes(mat, today):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            told(today)
        return len(captured)

    change(mat, 1, today - timedelta(40), 3.2, 1.3)
    few = queries()
    for position in (2, 3, 4):
        change(mat, position, today - timedelta(30), 2.0, 1.1)
    assert queries() == few
