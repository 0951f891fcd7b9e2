"""The pool's page: the fitted trend in words and drawings, and what it cannot know."""

import re
from datetime import timedelta
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_mat, make_reading, set_policy_value
from page_words import words_in

from fleet.models import CableSegment
from inspections.assessment.services import assess_pool
from inspections.bench.services import void_reading
from inspections.models import Assessment, Measurement
from inspections.numeric.words import TrendFrom

pytestmark = pytest.mark.django_db


def make_measured_pool(today, mats=6, shifted_month=None, months=(2, 7, 12, 17, 22)):
    """Mats measured in these months of their life; in one of them the set-up of the bench was off by 0.4 dB."""
    rng = np.random.default_rng(7)
    fitted_on = today - timedelta(800)
    for _ in range(mats):
        for fitting in make_mat(fitted=True, fitted_on=fitted_on).fittings.select_related("segment"):
            length_m = fitting.segment.length_m
            for month in months:
                loss_db = 0.3 + 0.5 * length_m + 0.1 * length_m * month / 12 + 0.02 * rng.standard_normal()
                shift_db = 0.4 if month == shifted_month else 0
                make_reading(fitting.segment, round(loss_db + shift_db, 3), fitted_on + timedelta(30 * month))
    assess_pool(today)


def test_an_empty_pool_says_that_there_is_no_trend_and_why(keeper_client):
    page = keeper_client.get("/pool/")
    assert page.status_code == 200
    why = "There is no trend of the pool: fewer than five cables have readings on two days"
    assert f"{why}. Read five cables on two days each" in shown(keeper_client, "/pool/")


def test_every_length_in_service_has_its_mean_when_fitted_and_at_the_age_limit(keeper_client, today):
    make_measured_pool(today)
    rows = keeper_client.get("/pool/").context["page"].lengths
    assert [row.length_m for row in rows] == [0.6, 1.1, 1.6, 2.1]
    for row in rows:
        means = dict(row.means)
        assert list(means) == ["when fitted", "after 3 years"]
        assert means["when fitted"] == pytest.approx(0.3 + 0.5 * row.length_m, abs=0.03)
        assert means["after 3 years"] == pytest.approx(0.3 + 0.8 * row.length_m, abs=0.05)
        assert row.rate_db == pytest.approx(0.1 * row.length_m, abs=0.02)
        assert (row.cables, row.read) == (6, 6)
        middle_db = (row.lowest_db + row.highest_db) / 2
        assert middle_db == pytest.approx(0.3 + (0.5 + 0.1 * 660 / 365.25) * row.length_m, abs=0.03)


def test_the_sentence_above_the_drawing_counts_what_is_over_and_names_what_is_near(keeper_client, today):
    make_measured_pool(today)
    own = Assessment.objects.filter(trend_from=TrendFrom.OWN).order_by("-trend_level_db")
    for limit_db in (3.0, 1.5):
        set_policy_value("loss_limit_db", limit_db, by=None, on=today, reason="tried")
        over = own.filter(trend_level_db__gt=limit_db).count()
        near = own.exclude(trend_level_db__gt=limit_db).select_related("segment").first()
        said = f"{over or 'None'} of 24 cables that were read {'are' if over > 1 else 'is'} over {limit_db:g} dB."
        nearest = f"The nearest below it loses {near.trend_level_db:.2f} dB, at {near.segment.length_m:.2f} m."
        assert f"{said} {nearest}" in shown(keeper_client, "/pool/")
    assert over > 1


def test_every_cable_is_a_point_those_without_a_reading_as_similar_ones_are_today(keeper_client, today):
    make_measured_pool(today)
    make_mat(fitted=True, fitted_on=today - timedelta(730))
    assess_pool(today)
    page = keeper_client.get("/pool/").context["page"]
    assert (page.cables.read.sum(), len(page.cables.read)) == (24, 28)
    length_m, loss_db = (column[~page.cables.read] for column in (page.cables.length_m, page.cables.loss_db))
    assert loss_db == pytest.approx(0.3 + 0.7 * length_m, abs=0.05)


def test_a_bench_day_whose_set_up_was_off_is_named_with_its_shift(keeper_client, today):
    make_measured_pool(today, shifted_month=12, months=range(0, 26, 2))
    page = keeper_client.get("/pool/")
    (day,) = page.context["page"].named_days
    assert day.measured_on == today - timedelta(800 - 360)
    # what all days share is the cables' own loss: the shift is that beyond it
    assert day.shift_db == pytest.approx(0.4 * 12 / 13, abs=0.05)
    text = shown(keeper_client, "/pool/")
    said = f"{day.measured_on:%-d %b %Y} read {day.shift_db:.2f} dB (± {day.shift_sd_db:.2f}) high; taken out."
    assert text.count(said) == 2
    assert "Look at the set-up of 1 bench day: adapters, reference, instrument." in text


def test_a_pool_whose_bench_days_agree_names_none(keeper_client, today):
    make_measured_pool(today)
    assert "None of 5 bench days reads far higher or lower than the others." in shown(keeper_client, "/pool/")


def shown(client, path):
    return words_in(unescape(client.get(path).content.decode()))


def test_readings_entered_or_changed_after_the_fit_are_said_to_be_missing_in_it(keeper_client, keeper, today):
    make_measured_pool(today)
    assert "newer than the pool’s trend" not in shown(keeper_client, "/due/")
    entered = make_reading(make_mat(fitted=True).fittings.get(position=1).segment, 1.0, today)
    assert "1 reading is newer than this trend" in shown(keeper_client, "/pool/")
    fitted = Measurement.objects.exclude(pk=entered.pk).last()
    void_reading(fitted, by=keeper, on=today, reason="wrong cable")
    assert "2 readings are newer than the pool’s trend" in shown(keeper_client, "/due/")
    void_reading(entered, by=keeper, on=today, reason="slip")
    assert "1 reading is newer than the pool’s trend" in shown(keeper_client, "/due/")


def test_clocks_that_cannot_be_compared_say_why(keeper_client, today):
    make_measured_pool(today)
    assert "a mat must have an event on record from before its cables were fitted" in shown(keeper_client, "/pool/")


def test_a_length_that_no_pool_has_is_named_beside_the_trend_that_rests_on_it(keeper_client, today):
    make_measured_pool(today, mats=2)
    assert "first: its length" not in shown(keeper_client, "/pool/")
    segment = CableSegment.objects.first()
    CableSegment.objects.filter(pk=segment.pk).update(length_m=1250)
    assess_pool(today)
    assert f"Look at {segment} first: its length is 1250.00 m, where 1.60 m is usual." in shown(keeper_client, "/pool/")


def test_a_value_that_cannot_be_fitted_is_named_and_the_other_dates_stand(keeper_client, today):
    make_measured_pool(today, mats=2)
    before = {row.segment_id: row.age_due_on for row in Assessment.objects.all()}
    segment = CableSegment.objects.first()
    CableSegment.objects.update(length_m=2e9)
    CableSegment.objects.filter(pk=segment.pk).update(length_m=2e9 + 1)
    Measurement.objects.filter(segment=segment).update(loss_db=1e300)
    assess_pool(today)
    text = shown(keeper_client, "/pool/")
    assert "no trend of the pool: a value on record lies too far from all others to calculate with" in text
    assert f"Look at {segment} first: its loss of" in text
    assert {row.segment_id: row.age_due_on for row in Assessment.objects.all()} == before


def test_readings_all_at_one_age_show_no_rise(keeper_client, today):
    for days in (10, 20, 30):
        fitted_on = today - timedelta(days)
        for fitting in make_mat(fitted=True, fitted_on=fitted_on).fittings.all():
            make_reading(fitting.segment, 1.0, fitted_on)
    assess_pool(today)
    assert "all readings were taken at one age of the cables" in shown(keeper_client, "/pool/")


def test_what_the_trend_cannot_know_is_said(visitor_client, today):
    make_measured_pool(today)
    text = shown(visitor_client, "/pool/")
    for sentence in (
        "Length and the folds it crosses go together in one design",
        "Only one and the same piece, read at both, tells them apart.",
        "Jumps that are rarer than the records go back are not foreseen.",
        "Wear that speeds up is taken for steady wear: its dates come too late.",
        "no forecast covers a crushed cable or a torn connector",
        "The accepted risk is per cable",
    ):
        assert sentence in text
    assert "Recalculate" not in text


def test_the_drawing_stands_before_the_tasks_and_the_numbers_last(keeper_client, today):
    make_measured_pool(today)
    make_mat(fitted=True, fitted_on=today - timedelta(730))
    assess_pool(today)
    html = keeper_client.get("/pool/").content.decode()
    text = words_in(html)
    headings = [
        "Loss against length",
        "What to do",
        "Bench days",
        "Wear counted by",
        "What it cannot know",
        "The numbers",
    ]
    assert re.findall("<h2>(.*?)</h2>", html)[-len(headings) :] == headings
    assert "To do: check the entries of 3 cables." in text
    assert "4 of 28 cables have too few readings to show how fast they wear themselves" in text
    assert "Wander, dB in one year" in words_in(html[html.index("<h2>The numbers</h2>") :])


def test_a_cable_whose_newest_reading_departs_is_to_be_measured_again(keeper_client, today):
    make_measured_pool(today)
    segment = CableSegment.objects.first()
    newest = Measurement.objects.filter(segment=segment).order_by("measured_on").last()
    Measurement.objects.filter(pk=newest.pk).update(loss_db=newest.loss_db + 1)
    assess_pool(today)
    text = shown(keeper_client, "/pool/")
    assert "The newest reading lies far above what was expected: measure again. The date stands." in text
    assert [row.segment for row in keeper_client.get("/pool/").context["page"].to_do.again] == [segment]
    # the page begins with it
    assert text.index("To do: measure 1 cable again") < text.index("readings of") < text.index("Loss against length")


def test_a_cable_that_moves_the_expected_day_of_others_is_named_and_by_how_far(keeper_client, today):
    make_measured_pool(today)
    strange = CableSegment.objects.filter(length_m=2.1).first()
    for reading in strange.measurements.all():
        years = (reading.measured_on - (today - timedelta(800))).days / 365.25
        Measurement.objects.filter(pk=reading.pk).update(loss_db=reading.loss_db + 0.3 * years)
    assess_pool(today)
    (cable, *_) = keeper_client.get("/pool/").context["page"].influential
    assert (cable.segment, cable.days > 30) == (strange, True)
    said = f"Check {strange} : its length, its day of fitting and its readings. Without its readings similar cables of"
    assert said in shown(keeper_client, "/pool/")
    CableSegment.objects.filter(pk=strange.pk).update(serial="C-RENAMED")
    assert "Check C-RENAMED :" in shown(keeper_client, "/pool/")


def test_the_number_of_queries_does_not_grow_with_the_pool(keeper_client, today):
    counts = []
    for mats in (2, 6):
        make_measured_pool(today, mats=mats)
        keeper_client.get("/pool/")
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get("/pool/")
        counts.append(len(queries))
    assert counts[0] == counts[1]
