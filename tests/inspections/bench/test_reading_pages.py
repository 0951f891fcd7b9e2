"""A reading is made void or called doubtful from its cable's page, with a reason that stays beside it."""

from datetime import timedelta

import pytest
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.urls import reverse
from factories import fit, make_instrument, make_mat, make_reading, make_segment
from page_words import words_in

from fleet.access import MAY_BENCH
from inspections.bench.reading_selectors import readings_of_mat, readings_of_segment
from inspections.bench.tables import READINGS_IN_SIGHT, mat_readings, reading_table
from inspections.models import Measurement

pytestmark = pytest.mark.django_db


@pytest.fixture
def reading(today):
    segment = make_segment(serial="C-00017")
    fit(segment, make_mat("M-017"), 3)
    return make_reading(segment, 1.31, today)


def void(reading):
    return reverse("inspections:reading-void", args=[reading.pk])


def doubtful(reading):
    return reverse("inspections:reading-doubtful", args=[reading.pk])


def list_for(person, lines, make_table=reading_table, fragment="_readings"):
    """The fragment that pages of mats and cables include, as words."""
    readings = make_table(lines, may_bench=person.has_perm(MAY_BENCH))
    html = render_to_string(f"inspections/bench/{fragment}.html", {"readings": readings}, RequestFactory().get("/"))
    return words_in(html)


def list_of_mat(person, mat, on):
    return list_for(person, readings_of_mat(mat, on), mat_readings, "_mat_readings")


def test_a_reading_is_voided_with_a_reason(bench_client, bench_hand, reading, today):
    assert "C-00017" in bench_client.get(void(reading)).content.decode()
    answer = bench_client.post(void(reading), {"reason": "wrong cable", "version": 1})
    assert (answer.status_code, answer.url) == (302, reading.segment.get_absolute_url())
    words = list_for(bench_hand, readings_of_segment(reading.segment, today))
    assert f"void since {today.day} {today:%b %Y}, by hand: wrong cable" in words
    assert "Make void" not in words


def test_a_doubt_is_raised_and_settled(bench_client, bench_hand, reading, today):
    bench_client.post(doubtful(reading), {"reason": "loose adapter", "version": 1})
    assert "doubtful (hand): loose adapter" in list_for(bench_hand, readings_of_segment(reading.segment, today))
    assert "It is doubtful: loose adapter." in bench_client.get(doubtful(reading)).content.decode()
    bench_client.post(doubtful(reading), {"reason": "it was tight", "version": 2})
    assert Measurement.objects.get().doubt_reason == ""


@pytest.mark.parametrize("act", [void, doubtful])
def test_a_reason_is_kept_as_long_as_it_may_be_typed(act, bench_client, reading):
    long = "measured again the next day with the other bridge and a new adapter: the loss is the same, so it was " * 2
    reason = long[:199] + "."
    for version in (1, 2):
        bench_client.post(act(reading), {"reason": reason, "version": version})
    reasons = reading.history.exclude(history_type="+").values_list("history_change_reason", flat=True)
    assert set(reasons) == {reason}


@pytest.mark.parametrize("act", [void, doubtful])
def test_without_a_reason_nothing_happens(act, bench_client, reading):
    answer = bench_client.post(act(reading), {"reason": " ", "version": 1})
    reading.refresh_from_db()
    assert (answer.status_code, reading.version) == (422, 1)
    assert "Fill in this field." in answer.content.decode()


def test_what_somebody_else_did_meanwhile_is_refused_and_the_reason_stays(bench_client, reading):
    bench_client.post(doubtful(reading), {"reason": "loose adapter", "version": 1})
    answer = bench_client.post(void(reading), {"reason": "wrong cable", "version": 1})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Somebody else changed this meanwhile" in page
    assert 'value="wrong cable"' in page


def test_a_visitor_reads_and_changes_nothing(visitor_client, visitor, reading, today):
    for act in (void, doubtful):
        assert visitor_client.post(act(reading), {"reason": "mine", "version": 1}).status_code == 403
    words = list_for(visitor, readings_of_segment(reading.segment, today))
    assert "1.31" in words
    assert "Make void" not in words


def test_a_line_says_all_that_is_known_of_a_reading(bench_hand, today):
    segment, mat = make_segment(serial="C-00020"), make_mat("M-020")
    fit(segment, mat, 2)
    values = {"frequency_mhz": 866.5, "temperature_c": 12.0, "measured_by": "Ida Quill", "reason": "suspect"}
    make_reading(segment, 1.31, today, instrument=make_instrument("bridge A", 0.1), note="wet", **values)
    make_reading(segment, None, today, repeat=2)
    words = list_of_mat(bench_hand, mat, today)
    day = f"{today.day} {today:%b %Y}"
    # 1.31 · sqrt(900/866.5) / (1 - 0.016) = 1.3568
    assert (
        f"{day} bridge A at 866.5 MHz, by Ida Quill 2 C-00020 1.31 within 1.36 ± 0.10 dB wet as found, 12 °C suspect"
    ) in words
    assert (
        f"{day} instrument not recorded at reference frequency, by somebody not recorded "
        "2 C-00020 repeat 2 no signal over: no signal as found, 20 °C assumed routine"
    ) in words


def test_readings_of_a_mat_stand_under_the_day_and_way_they_share_each_once(today):
    mat = make_mat("M-020", fitted=True, fitted_on=today - timedelta(days=900))
    segments = [fitting.segment for fitting in mat.fittings.order_by("position")]
    for months in range(9):
        for segment in segments:
            make_reading(segment, 1.1, today - timedelta(days=30 * months))
    make_reading(segments[0], 1.2, today, repeat=2, frequency_mhz=866.5)
    read = readings_of_mat(mat, today)
    readings = mat_readings(read, may_bench=True)
    groups = [*readings.shown, *readings.rest]
    assert [(group.first.measured_on, len(group.rows)) for group in groups[:3]] == [
        (today, len(segments)),
        (today, 1),
        (today - timedelta(days=30), len(segments)),
    ]
    assert sorted(row.reading.pk for group in groups for row in group.rows) == sorted(row.reading.pk for row in read)
    in_sight = [len(group.rows) for group in readings.shown]
    assert sum(in_sight[:-1]) < READINGS_IN_SIGHT <= sum(in_sight)
    assert readings.more == len(read) - sum(in_sight)


def test_a_cable_without_a_reading_says_never_measured(bench_hand, today):
    assert list_for(bench_hand, readings_of_segment(make_segment(), today)) == "Not measured."
