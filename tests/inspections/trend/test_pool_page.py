"""The pool's page: the fitted trend in words and drawings, and what it cannot know."""

from datetime import timedelta
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_mat, make_reading
from page_words import words_in

from fleet.models import CableSegment
from inspections.assessment.services import assess_pool
from inspections.bench.services import void_reading
from inspections.models import Assessment, Measurement

pytestmark = pytest.mark.django_db


def make_measured_pool(today, mats=6, shifted_month=None):
    """Mats measured every five months; in one month the set-up of the bench was off by 0.4 dB."""
    rng = np.random.default_rng(7)
    fitted_on = today - timedelta(800)
    for _ in range(mats):
        for fitting in make_mat(fitted=True, fitted_on=fitted_on).fittings.select_related("segment"):
            length_m = fitting.segment.length_m
            for month in (2, 7, 12, 17, 22):
                loss_db = 0.3 + 0.5 * length_m + 0.1 * length_m * month / 12 + 0.02 * rng.standard_normal()
                shift_db = 0.4 if month == shifted_month else 0
                make_reading(fitting.segment, round(loss_db + shift_db, 3), fitted_on + timedelta(30 * month))
    assess_pool(today)


def test_an_empty_pool_says_that_there_is_no_trend_and_why(keeper_client):
    page = keeper_client.get("/pool/")
    assert page.status_code == 200
    why = "There is no trend of the pool: fewer than five cables have readings on two days"
    assert why in shown(keeper_client, "/pool/")


def test_every_length_in_service_has_its_fitted_line(keeper_client, today):
    make_measured_pool(today)
    page = keeper_client.get("/pool/")
    assert [line.length_m for line in page.context["page"].lengths] == [0.6, 1.1, 1.6, 2.1]
    for line in page.context["page"].lengths:
        assert line.as_new_db == pytest.approx(0.3 + 0.5 * line.length_m, abs=0.03)
        assert line.rate_db == pytest.approx(0.1 * line.length_m, abs=0.02)


def test_a_bench_day_whose_set_up_was_off_is_named(keeper_client, today):
    make_measured_pool(today, shifted_month=12)
    page = keeper_client.get("/pool/")
    departing = {day.day for day in page.context["page"].departing_days}
    assert today - timedelta(800 - 360) in departing
    text = shown(keeper_client, "/pool/")
    assert "deviate from the lines by more than chance" in text
    day = next(day for day in page.context["page"].departing_days if day.day == today - timedelta(800 - 360))
    assert f"{day.day:%-d %b %Y} (+{day.mean_residual_db:.2f} dB)" in text


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
    assert f"Look at {segment} first: its length is 1250 m, where 1.6 m is usual." in shown(keeper_client, "/pool/")


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
    text = " ".join(visitor_client.get("/pool/").content.decode().split())
    for sentence in (
        "Length and the folds it crosses go together in one design",
        "Readings of one day share its error" if "deviate from" in text else "None of",
        "no forecast covers a crushed cable or a torn connector",
        "The accepted risk is per cable",
    ):
        assert sentence in text
    assert "Recalculate" not in text


def test_the_number_of_queries_does_not_grow_with_the_pool(keeper_client, today):
    counts = []
    for mats in (2, 6):
        make_measured_pool(today, mats=mats)
        keeper_client.get("/pool/")
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get("/pool/")
        counts.append(len(queries))
    assert counts[0] == counts[1]
