"""The page of a cable: its life, its readings, and every cause with the numbers behind it."""

from datetime import timedelta
from html import unescape

import numpy as np
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
from page_words import words_in

from inspections.assessment.services import assess_pool, reassess
from inspections.models import Assessment, BenchDay, PolicyValue, PoolTrend
from inspections.numeric import calendar
from inspections.pages.segment.loss_chart import Drawn
from inspections.pages.segment.trend_services import trend_of_cable
from inspections.pages.segment.views import band_of


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
    assert "Measured, with a standard uncertainty of 0.10 dB." in seen
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


def test_void_readings_and_those_found_before_cleaning_stand_apart(visitor_client, segment, today):
    day, other = today - timedelta(days=20), today - timedelta(days=9)
    make_reading(segment, 2.0, day)
    make_reading(segment, 1.4, day, repeat=2, taken="after cleaning")
    make_reading(segment, 9.9, other, voided_on=other, void_reason="slip")
    make_reading(segment, None, other, repeat=2)
    make_reading(segment, 1.0, today, frequency_mhz=433)
    dots = show(visitor_client, segment).context["chart"].dots
    assert [(round(dot.reading.loss_db or 0, 1), dot.is_apart, dot.no_signal) for dot in dots] == [
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
    assert f"Its loss is expected to reach 3 dB on {row.trend_expected_on:%-d %b %Y}." in seen
    assert "estimated from its own readings." in seen


def test_the_band_of_a_line_that_stands_alone_reaches_the_limit_on_its_early_day(visitor_client, segment, today):
    read_three_times(segment, today)
    row = show(visitor_client, segment).context["row"]
    # at 5 % risk both are the 95 % point of Student's t with one degree of freedom
    trend = trend_of_cable(segment, row, today - timedelta(days=900), today)
    mean_db, sd_db = trend.path([row.trend_due_on])
    assert (mean_db + band_of(trend) * sd_db)[0] == pytest.approx(3, abs=0.01)


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
    assert "at least 30 days" in seen and "its age is not known" in seen


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
    # 0.15 dB: what the policy says of readings without an instrument
    assert ">0.15</td>" in " ".join(figure.split()).replace("> ", ">").replace(" <", "<")
    assert "Limit: 3 dB." in figure and "one standard uncertainty of the reading to each side" in figure


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


def read_pool_once_a_year(today, *, shift_db=0.3, newest_db=None):
    """Twelve cables read on three bench days, the second of which read high; the first cable, last read `newest_db`."""
    rng, fitted_on, cables = np.random.default_rng(3), today - timedelta(days=1000), []
    for _ in range(3):
        mat = make_mat(fitted=True, fitted_on=fitted_on)
        cables += [fitting.segment for fitting in mat.fittings.select_related("segment").order_by("position")]
    for days, high_db in ((200, 0.0), (550, shift_db), (900, 0.0)):
        for cable in cables:
            wear_db = (0.5 + 0.1 * days / 365.25) * cable.length_m
            loss_db = 0.1 + wear_db + high_db + 0.01 * rng.standard_normal()
            if newest_db and days == 900 and cable is cables[0]:
                loss_db = newest_db
            make_reading(cable, round(loss_db, 3), fitted_on + timedelta(days=days), temperature_c=20)
    assess_pool(today)
    return cables


def test_a_reading_stands_as_it_was_and_without_the_shift_of_its_bench_day(visitor_client, today):
    cable = read_pool_once_a_year(today)[0]
    answer = show(visitor_client, cable)
    dots = answer.context["chart"].dots
    shifts = [dot.reading.shift_db for dot in dots]
    assert shifts[1] - (shifts[0] + shifts[2]) / 2 == pytest.approx(0.3, abs=0.05)
    assert all(
        dot.reading.without_shift_db == pytest.approx(dot.reading.loss_db - shift)
        for dot, shift in zip(dots, shifts, strict=True)
    )
    seen = text_of(answer)
    assert "Ring: as it was read. Dot: with the shift of its bench day taken out" in seen
    table = seen[seen.index("Shift of the day") : seen.index("</figure>")]
    assert all(f'<a href="{day.get_absolute_url()}">' in table for day in BenchDay.objects.all())
    assert f"{shifts[1]:+.2f}" in table


def test_its_three_sentences_say_when_how_sure_and_why(visitor_client, today):
    cable = read_pool_once_a_year(today)[3]
    answer = show(visitor_client, cable)
    row, said = answer.context["row"], words_in(unescape(answer.content.decode()))
    facts = said[said.index("When ") : said.index("The numbers behind it")]
    assert facts.startswith(f"When It should not go out from {row.due_on:%-d %b %Y} on, that ")
    assert f"Its loss is expected to reach 3 dB on {row.trend_expected_on:%-d %b %Y}." in facts
    assert (
        "How sure Certain: the day of fitting is known. The chance that the cable itself is at 3 dB or more is" in facts
    )
    assert f"reaches the accepted risk of 5 % on {row.trend_due_on:%-d %b %Y}." in facts
    assert "estimated from its own readings and those of similar cables." in facts


def test_the_chance_on_its_due_day_is_that_of_the_pool_as_of_that_day(visitor_client, today):
    cable = read_pool_once_a_year(today)[3]
    row = show(visitor_client, cable).context["row"]
    then = trend_of_cable(cable, row, today - timedelta(days=1000), today).chance_then
    assess_pool(row.due_on)
    assert row.cause == "age" and row.due_on > today
    assert then == pytest.approx(Assessment.objects.get(segment=cable).chance_over, rel=1e-6)


def test_the_band_reaches_the_limit_where_the_chance_reaches_the_risk(visitor_client, today):
    """The date by trend and the drawing are one: at 5 % risk the upper edge of the 90 % band is then at the limit."""
    cable = read_pool_once_a_year(today)[3]
    row = show(visitor_client, cable).context["row"]
    trend = trend_of_cable(cable, row, today - timedelta(days=1000), today)
    mean_db, sd_db = trend.path([row.trend_due_on])
    # the mixture of a small pool is no normal, and what settles lowers the limit a little
    assert (mean_db + band_of(trend) * sd_db)[0] == pytest.approx(trend.over_from_db, abs=0.1)


def test_a_newest_reading_that_lies_far_off_is_to_be_taken_again_and_its_date_stands(visitor_client, today):
    cable = read_pool_once_a_year(today, newest_db=2.4)[0]
    answer = show(visitor_client, cable)
    row, said = answer.context["row"], text_of(answer)
    assert row.departs and row.status == "measure" and row.trend_due_on
    assert said.count("The newest reading lies far from what was expected: measure again, the date stands.") == 1


def test_doubtful_readings_are_out_of_the_fit_and_say_so(visitor_client, segment, today):
    make_reading(segment, 1.3, today - timedelta(days=30), doubt_reason="loose adapter")
    make_reading(segment, 1.2, today)
    answer = show(visitor_client, segment)
    assert [dot.reading.drawn for dot in answer.context["chart"].dots] == [Drawn.OUT, Drawn.COUNTS]
    assert "Diamond: out of the fit" in text_of(answer)


def test_the_as_new_loss_of_the_register_is_drawn_unless_a_reading_of_that_day_stands(visitor_client, today):
    segment = make_segment(1.6, as_new_loss_db=0.9)
    fit(segment, make_mat(), 1, today - timedelta(days=100))
    make_reading(segment, 1.1, today)
    assert [dot.reading.drawn for dot in show(visitor_client, segment).context["chart"].dots] == [
        Drawn.AS_NEW,
        Drawn.COUNTS,
    ]
    make_reading(segment, 0.95, today - timedelta(days=100))
    assert [dot.reading.drawn for dot in show(visitor_client, segment).context["chart"].dots] == [
        Drawn.COUNTS,
        Drawn.COUNTS,
    ]


def test_the_numbers_stand_one_click_below(visitor_client, today):
    cable = read_pool_once_a_year(today)[0]
    answer = show(visitor_client, cable)
    row, said = answer.context["row"], words_in(unescape(answer.content.decode()))
    numbers = said[said.index("The numbers behind it") :]
    assert f"{row.trend_level_db:.2f} dB (± {row.level_sd_db:.2f}) on {row.trend_level_on:%-d %b %Y}" in numbers
    assert "In the fit 3 readings Newest" in numbers


def test_a_reading_that_the_fit_left_out_is_shown_and_named_as_out_of_it(visitor_client, today):
    cable = read_pool_once_a_year(today)[0]
    day = today - timedelta(days=1000 - 550)
    loss_db = cable.measurements.get(measured_on=day).loss_db
    PoolTrend.objects.update(left_out=[[cable.pk, day.isoformat(), loss_db]])
    reassess([cable.pk], on=today)
    answer = show(visitor_client, cable)
    dots = answer.context["chart"].dots
    assert [dot.reading.drawn for dot in dots] == [Drawn.COUNTS, Drawn.OUT, Drawn.COUNTS]
    assert dots[1].own_y is None
    said = words_in(answer.content.decode())
    assert "Diamond: out of the fit, because it is doubtful or lay too far from all others." in said
    assert "In the fit 2 readings, 1 left out" in said
    chart = visitor_client.get(reverse("inspections:pool")).context["lengths"]
    assert len(chart.left_out) == 1


def test_what_was_read_at_fitting_is_its_as_new_loss_where_the_register_has_none(visitor_client, today):
    segment = make_segment(serial="C-FIT")
    fit(segment, make_mat("M-9"), 1, today - timedelta(9))
    page = "/cables/C-FIT/"
    assert "As-new loss not measured" in words_in(visitor_client.get(page).content.decode())
    # design section 4: 0.2 % a degree, so 2.04 dB at 30 °C are 2.00 dB at 20 °C
    make_reading(segment, 2.04, today - timedelta(9), taken="at fitting", temperature_c=30)
    make_reading(segment, 2.5, today - timedelta(2))
    assert "As-new loss 2.00 dB, read at fitting" in words_in(visitor_client.get(page).content.decode())
