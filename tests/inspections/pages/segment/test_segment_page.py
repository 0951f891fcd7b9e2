"""The page of a cable: its life, its readings, and every cause with the numbers behind it."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import (
    fit,
    make_event,
    make_fault,
    make_instrument,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)

from inspections.assessment.services import assess_pool
from inspections.models import Assessment, PolicyValue
from inspections.numeric import calendar
from inspections.pages.segment.loss_chart import trend_to_draw


@pytest.fixture
def segment(db):
    return make_segment(1.6, "C-1")


def add_months(day, months):
    return calendar.add_months(day, months).astype(object)


def show(client, segment):
    return client.get(reverse("fleet:segment-detail", args=[segment.serial]))


def text_of(answer):
    return " ".join(answer.content.decode().split())


def test_its_life_is_every_fitting_in_order(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, today - timedelta(days=900), today - timedelta(days=400), removal_reason="moved")
    fit(segment, make_mat("M-002"), 3, today - timedelta(days=400))
    answer = show(visitor_client, segment)
    assert [str(fitting.mat) for fitting in answer.context["fittings"]] == ["M-001", "M-002"]
    assert "moved" in text_of(answer)
    assert answer.context["place"].mat.number == "M-002"


def test_it_says_when_how_sure_and_why(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, today - timedelta(days=200), fitted_basis="not later than")
    make_reading(segment, 3.4, today - timedelta(days=2), instrument=make_instrument("bridge", 0.1), temperature_c=20)
    seen = text_of(show(visitor_client, segment))
    assert "2 days ago" in seen
    assert "Measured, with a standard uncertainty of 0.1 dB." in seen
    assert "3.40 dB measured on" in seen


def test_every_cause_stands_with_its_number_and_limit(visitor_client, segment, today):
    mat = make_mat("M-001")
    fit(segment, mat, 1, today - timedelta(days=500))
    make_usage_event(mat, make_event(today - timedelta(days=30)), counts_for=7)
    make_fault(mat, "connector", 1, today - timedelta(days=3))
    make_reading(segment, 1.31, today - timedelta(days=9), temperature_c=20)
    answer = show(visitor_client, segment)
    seen = text_of(answer)
    table = seen[seen.index('aria-label="Causes"') : seen.index("<h2>Fittings</h2>")]
    for words in ("Damage", "Age", "3 years", "Events", ">7<", "150 events", "Loss", "1.31 dB", "3 dB", "connector"):
        assert words in table, words
    assert answer.context["row"].status == "change now"


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("spare", "A spare on the shelf"),
        ("withdrawn", "Withdrawn on"),
        ("withdrawn mat", "Not assessed, because its mat M-009 is withdrawn."),
    ],
)
def test_a_cable_that_is_not_assessed_says_why(visitor_client, segment, today, state, words):
    if state == "withdrawn":
        segment.withdrawn_on, segment.withdrawal_reason = today, "crushed"
        segment.save()
    if state == "withdrawn mat":
        fit(segment, make_mat("M-009", withdrawn_on=today), 1)
    assert words in text_of(show(visitor_client, segment))


def test_void_readings_and_those_found_before_cleaning_are_hollow(visitor_client, segment, today):
    day, other = today - timedelta(days=20), today - timedelta(days=9)
    make_reading(segment, 2.0, day)
    make_reading(segment, 1.4, day, repeat=2, taken="after cleaning")
    make_reading(segment, 9.9, other, voided_on=other, void_reason="slip")
    make_reading(segment, None, other, repeat=2)
    make_reading(segment, 1.0, today, frequency_mhz=433)
    dots = show(visitor_client, segment).context["chart"].dots
    assert [(round(dot.reading.loss_db or 0, 1), dot.reading.hollow, dot.no_signal) for dot in dots] == [
        (2.0, True, False),
        (1.4, False, False),
        (9.9, True, False),
        (0, False, True),
    ]


def test_a_cable_to_be_measured_says_why_and_also_what_its_date_rests_on(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, today - timedelta(days=30))
    make_reading(segment, 2.95, today, temperature_c=20)
    seen = text_of(show(visitor_client, segment))
    assert "limit 3 dB: too close to the limit, measure again." in seen
    assert "The date: 3 years old on" in seen


def read_three_times(segment, today):
    """A line of its own, 0.5 dB when fitted and 0.5 dB a year, with little scatter."""
    fit(segment, make_mat("M-001", fitted=False), 1, today - timedelta(days=900))
    for days_ago, scatter_db in ((800, 0.01), (500, -0.02), (100, 0.01)):
        loss_db = 0.5 + 0.5 * (900 - days_ago) / 365.25 + scatter_db
        make_reading(segment, round(loss_db, 3), today - timedelta(days=days_ago))
    assess_pool(today)


def test_both_days_of_the_trend_stand_there_though_age_decides(visitor_client, segment, today):
    read_three_times(segment, today)
    answer = show(visitor_client, segment)
    row, seen = answer.context["row"], text_of(answer)
    assert row.cause == "age" and row.trend_due_on < row.trend_expected_on
    assert f"reaches the accepted risk of 5\xa0% on {row.trend_due_on:%-d %b %Y}." in answer.content.decode()
    assert f"50\xa0% chance from {row.trend_expected_on:%-d %b %Y}" in answer.content.decode()
    assert "Estimated from its own readings." in seen


def test_the_band_of_a_line_that_stands_alone_reaches_the_limit_on_its_early_day(visitor_client, segment, today):
    read_three_times(segment, today)
    row = show(visitor_client, segment).context["row"]
    # at 5 % risk both are the 95 % point of Student's t with one degree of freedom
    trend = trend_to_draw(row, today - timedelta(days=900), alone=True)
    mean_db, sd_db = trend.at(row.trend_due_on)
    assert mean_db + trend.band_sds * sd_db == pytest.approx(3, abs=0.01)


def test_under_the_event_clock_it_says_why_no_line_is_drawn(visitor_client, segment, today):
    PolicyValue.objects.create(setting="wear_by_events", value=1)
    mat = make_mat("M-001")
    fit(segment, mat, 1, today - timedelta(days=900))
    for days_ago, loss_db in ((800, 1.0), (500, 1.22), (100, 1.4)):
        make_usage_event(mat, make_event(today - timedelta(days=days_ago)))
        make_reading(segment, loss_db, today - timedelta(days=days_ago))
    assess_pool(today)
    answer = show(visitor_client, segment)
    assert answer.context["chart"].trend_path == ""
    assert "Wear is counted by events, so no line can be drawn over years." in text_of(answer)


def test_an_age_that_is_not_known_is_told_as_the_least_it_can_be(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, today - timedelta(days=30), fitted_basis="not later than")
    seen = text_of(show(visitor_client, segment))
    assert "at least 30 days" in seen and "no date by trend: its age is not known" in seen


def test_a_cable_never_measured_has_no_chart(visitor_client, segment):
    answer = show(visitor_client, segment)
    assert answer.context["chart"] is None
    assert "No reading to draw yet" in text_of(answer)


def test_the_chart_gives_the_same_numbers_as_a_table(visitor_client, segment, today):
    make_reading(segment, 1.31, today, temperature_c=20)
    seen = text_of(show(visitor_client, segment))
    figure = seen[seen.index('<figure class="drawing loss-chart">') : seen.index("</figure>")]
    for words in ('role="img"', "<title", "<desc", "limit 3 dB", "The same numbers as a table", "1.31"):
        assert words in figure


def test_its_page_asks_as_often_for_a_long_life_as_for_a_short_one(keeper_client, today):
    asked = []
    for rows in (1, 3, 30):
        segment, mat = make_segment(), make_mat()
        for number in range(rows):
            start = today - timedelta(days=20 * (number + 1))
            fit(segment, mat, 1, start, start + timedelta(days=20) if number else None)
            make_reading(segment, 1.1, start, instrument=make_instrument())
            make_fault(mat, reported_on=start, ended_on=start, end_reason="repair")
        assess_pool(today)
        with CaptureQueriesContext(connection) as queries:
            show(keeper_client, segment)
        asked.append(len(queries))
    assert asked[0] == asked[1] == asked[2]


def test_a_wrong_day_of_fitting_is_corrected_with_its_trail(keeper_client, segment, today):
    fitting = fit(segment, make_mat("M-001"), 1, today - timedelta(days=100))
    day = (today - timedelta(days=200)).isoformat()
    address = reverse("fleet:fitting-correct", args=["C-1", fitting.pk])
    values = {"fitted_on": day, "fitted_basis": "about", "reason": "found the receipt", "version": fitting.version}
    assert keeper_client.post(address, values).url == segment.get_absolute_url()
    seen = text_of(show(keeper_client, segment))
    assert "found the receipt" in seen
    assert "In M-001 position 1" in seen


def test_a_changed_serial_leads_to_the_new_page(keeper_client, segment):
    address = reverse("fleet:segment-correct", args=["C-1"])
    kind = segment.cable_type.name
    answer = keeper_client.post(address, {"serial": "C-2", "cable_type": kind, "length_m": "1.6", "version": 1})
    assert answer.url == reverse("fleet:segment-detail", args=["C-2"])
    assert "<del>C-1</del>" in text_of(keeper_client.get(answer.url))


def test_two_certainties_are_explained_where_they_differ(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, today - timedelta(days=200))
    make_reading(segment, 2.8, today, instrument=make_instrument("bridge", 0.15), temperature_c=20)
    assess_pool(today)
    for chance, explained in ((0.002, True), (0.3, False)):
        Assessment.objects.update(chance_over=chance, trend_from="own readings", trend_due_on=today)
        assert ("by itself is too close to the limit to tell" in text_of(show(visitor_client, segment))) == explained


def test_a_cable_that_its_own_readings_judge_says_when_its_age_would_have_asked(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, add_months(today, -40))
    for months, loss_db in ((25, 0.40), (13, 0.45), (1, 0.49)):
        make_reading(segment, loss_db, add_months(today, -months))
    by_age = add_months(add_months(today, -40), 36)
    assert "Its age" not in text_of(show(visitor_client, segment))
    PolicyValue.objects.create(setting="own_readings_decide", value=1)
    assess_pool(today)
    seen = text_of(show(visitor_client, segment))
    assert (
        "Age and events do not count: its own readings decide. "
        f"By age it would have been due on {by_age.day} {by_age:%b %Y}."
    ) in seen
    assert Assessment.objects.get().due_on is None


def test_the_drawing_names_the_cause_of_the_date_though_a_graver_one_leads(visitor_client, segment, today):
    fit(segment, make_mat("M-001"), 1, add_months(today, -40))
    make_reading(segment, 3.6, today - timedelta(days=2))
    seen = text_of(show(visitor_client, segment))
    assert "Due by age." in seen
    assert "due by loss" not in seen.lower()
