"""The trend as a cause: from a segment's own readings or similar cables, as a date, or why there is none."""

from datetime import date, timedelta
from unittest.mock import ANY

import pytest
from django.db import transaction
from factories import fit, make_depot, make_event, make_mat, make_reading, make_segment, make_usage_event
from worn_pools import FITTED_ON, MONTHS, bench_day, make_pool, read, row_of

from inspections.assessment import pool_fits, services
from inspections.bench.services import void_reading
from inspections.models import Assessment, BenchDay, PolicyValue, PoolTrend

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


def test_a_segment_is_due_when_its_chance_reaches_the_accepted_risk():
    mats = make_pool()
    services.assess_pool(ON)
    longest = row_of(mats[0].fittings.get(position=4).segment)
    assert longest.trend_from == "own readings"
    assert ON < longest.trend_due_on < longest.trend_expected_on
    fitted, day = pool_fits.stored_fit(), longest.trend_due_on
    later = {r.segment_id: r for r in services.assessments(day, fitted=fitted)}
    the_day_before = {r.segment_id: r for r in services.assessments(day - timedelta(1), fitted=fitted)}
    assert later[longest.segment_id].chance_over >= 0.05 > the_day_before[longest.segment_id].chance_over


def test_longest_segment_is_due_before_its_mat_mates():
    mat = make_pool()[0]
    services.assess_pool(ON)
    due_on = [row_of(mat.fittings.get(position=position).segment).trend_expected_on for position in (4, 3, 2)]
    assert due_on == sorted(due_on)


def test_a_segment_without_readings_gets_the_line_of_its_length_and_says_so():
    make_pool()
    segment = make_segment(2.1)
    fit(segment, make_mat(), 1, FITTED_ON)
    services.assess_pool(ON)
    row = row_of(segment)
    assert (row.trend_from, row.trend_readings) == ("similar cables", 0)
    assert row.trend_due_on is not None


@pytest.mark.parametrize(("bench", "status"), [(1, "measure"), (0, "change now")])
def test_a_trend_of_similar_cables_alone_asks_for_a_measurement_where_there_is_a_bench(bench, status):
    depot = make_depot()
    PolicyValue.objects.create(setting="has_bench", value=bench, depot=depot)
    PolicyValue.objects.create(setting="age_limit_years", value=40)
    make_pool(rate_db=0.55)
    segment = make_segment(2.1)
    fit(segment, make_mat(depot=depot), 1, FITTED_ON)
    make_reading(segment, 1.5, ON, frequency_mhz=2450)
    services.assess_pool(ON)
    row = row_of(segment)
    assert row.trend_from == "similar cables" and row.trend_due_on <= ON
    assert row.status == status
    # of what asks for it the first is said, and it was never measured at all
    assert row.measure_reason == ("never measured" if bench else "")


@pytest.mark.parametrize(
    ("planned", "event_limit", "status"),
    # at its limit with that very event it is to be changed before it, whatever the trend says
    [(True, 100, "measure"), (False, 100, "measure"), (True, 1, "change before")],
)
def test_a_trend_of_similar_cables_alone_asks_for_a_measurement_before_its_day_too(planned, event_limit, status):
    PolicyValue.objects.create(setting="age_limit_years", value=40)
    PolicyValue.objects.create(setting="event_limit", value=event_limit)
    PolicyValue.objects.create(setting="measure_again_months", value=480)
    make_pool(rate_db=0.55)
    segment, mat = make_segment(2.1), make_mat()
    fit(segment, mat, 1, FITTED_ON)
    services.assess_pool(ON)
    on = row_of(segment).trend_due_on - timedelta(5)
    if planned:
        make_usage_event(mat, make_event(on + timedelta(9)), "planned")
    row = {row.segment_id: row for row in services.assessments(on, fitted=pool_fits.stored_fit())}[segment.pk]
    assert (row.trend_from, row.cause) == ("similar cables", "trend")
    assert (row.status, row.measure_reason == "similar cables are due") == (status, status == "measure")


def test_falling_readings_have_no_date_and_are_a_finding():
    make_pool()
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON)
    read(segment, (2.6, 2.1, 1.6, 1.1, 0.7))
    services.assess_pool(ON)
    row = row_of(segment)
    assert (row.trend_due_on, row.trend_no_date_reason, row.chance_over) == (None, "falling", None)
    assert (row.status, row.measure_reason) == ("measure", "falling")
    assert segment.pk in Assessment.objects.off_trend().values_list("segment", flat=True)


def test_a_cable_that_was_not_read_twice_does_not_fall_itself():
    for mat in make_pool(mats=12, rate_db=-0.25):
        mat.fittings.get(position=2).segment.measurements.all().delete()
    once = make_segment(1.6)
    fit(once, make_mat(), 1, FITTED_ON)
    read(once, (0.3,), MONTHS[-1:])
    services.assess_pool(ON)
    never = Assessment.objects.filter(position=2, measured_on=None).first()
    assert (never.trend_no_date_reason, never.trend_readings) == ("falling", 0)
    assert (never.status, never.measure_reason) == ("measure", "never measured")
    assert (row_of(once).trend_no_date_reason, row_of(once).measure_reason) == ("falling", "")
    off = set(Assessment.objects.off_trend().values_list("segment", flat=True))
    assert off and not off & {never.segment_id, once.pk}


@pytest.mark.parametrize(
    ("newest_db", "level_month"),
    # a high one may be a fault, and counts; one that is too low has no part in the line
    [(2.35, 23), (1.7, 18)],
)
def test_a_newest_reading_that_departs_is_to_be_taken_again_and_the_date_stands(newest_db, level_month):
    PolicyValue.objects.create(setting="look_ahead_days", value=1)
    make_pool(mats=6)
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON)
    read(segment, (1.22, 1.42, 1.62, 1.82, newest_db))
    services.assess_pool(ON)
    row = row_of(segment)
    assert row.trend_due_on > ON and row.trend_expected_on > row.trend_due_on
    assert (row.status, row.measure_reason, row.trend_no_date_reason) == ("measure", "does not follow a line", "")
    assert row.departs and segment.pk in Assessment.objects.off_trend().values_list("segment", flat=True)
    assert row.trend_level_on == bench_day(level_month)
    left_out = [[segment.pk, bench_day(23).isoformat(), newest_db]] if level_month == 18 else []
    assert PoolTrend.objects.get().left_out == left_out


def test_a_reading_that_was_left_out_of_the_fit_stays_out_until_the_next_one():
    make_pool(mats=6)
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON)
    read(segment, (1.22, 1.42, 0.5, 1.82, 2.02))
    services.assess_pool(ON)
    fitted = row_of(segment)
    assert PoolTrend.objects.get().left_out == [[segment.pk, bench_day(13).isoformat(), 0.5]]
    services.reassess([segment.pk], on=ON)
    again = row_of(segment)
    assert (again.trend_readings, again.trend_due_on) == (fitted.trend_readings, fitted.trend_due_on) == (4, ANY)
    assert again.measure_reason == ""


def test_a_reading_that_was_left_out_and_is_typed_again_as_it_was_counts_at_once(keeper):
    make_pool(mats=6)
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON)
    read(segment, (1.22, 1.42, 1.62, 1.82, 0.2))
    services.assess_pool(ON)
    assert row_of(segment).trend_level_on == bench_day(18)
    wrong = segment.measurements.get(measured_on=bench_day(23))
    void_reading(wrong, by=keeper, on=ON, reason="a digit is missing")
    make_reading(segment, 2.02, bench_day(23), repeat=2)
    services.reassess([segment.pk], on=ON)
    row = row_of(segment)
    assert (row.trend_level_on, row.trend_readings, row.measure_reason) == (bench_day(23), 5, "")


def test_an_age_not_known_gives_nothing_to_the_fit_and_has_no_trend():
    make_pool()
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, FITTED_ON, fitted_basis="not later than")
    make_reading(segment, 1.5, ON)
    services.assess_pool(ON)
    row = row_of(segment)
    assert (row.chance_over, row.trend_due_on, row.trend_no_date_reason) == (None, None, "age not known")
    assert pool_fits.stored_fit().model.readings == 60


def test_with_too_few_readings_there_is_no_trend_and_the_reason_is_kept():
    mat = make_mat(fitted=True)
    make_reading(mat.fittings.get(position=1).segment, 1.0, date(2026, 5, 1))
    make_reading(mat.fittings.get(position=1).segment, 1.1, date(2026, 8, 1))
    services.assess_pool(ON)
    assert set(Assessment.objects.values_list("trend_due_on", "trend_no_date_reason")) == {(None, "too few readings")}


def test_without_a_trend_of_the_pool_a_bench_day_is_known_and_its_shift_is_not():
    mat = make_mat(fitted=True, fitted_on=FITTED_ON)
    one, other, *_ = [fitting.segment for fitting in mat.fittings.all()]
    make_reading(one, 1.0, ON)
    services.assess_pool(ON)
    known = "measured_on", "readings", "shift_db", "shift_sd_db", "in_fit"
    assert list(BenchDay.objects.values_list(*known)) == [(ON, 1, None, None, True)]
    for segment in (one, other):
        make_reading(segment, 1.1, ON + timedelta(1), repeat=1)
    services.reassess([other.pk], on=ON + timedelta(1))
    assert BenchDay.objects.values_list(*known).get(in_fit=False) == (ON + timedelta(1), 2, None, None, False)


def test_the_measured_as_new_loss_is_the_reading_at_time_nought_for_the_trend_only():
    make_pool()
    segment = make_segment(1.6, as_new_loss_db=1.1)
    fit(segment, make_mat(), 1, FITTED_ON)
    services.assess_pool(ON)
    row = row_of(segment)
    assert (row.trend_readings, row.trend_from, row.measured_on, row.measure_reason) == (
        1,
        "similar cables",
        None,
        "never measured",
    )


def test_a_reading_of_the_day_of_fitting_replaces_the_as_new_loss_in_the_fit():
    make_pool()
    segment = make_segment(1.6, as_new_loss_db=1.9)
    fit(segment, make_mat(), 1, FITTED_ON)
    make_reading(segment, 1.1, FITTED_ON)
    services.assess_pool(ON)
    row = row_of(segment)
    assert (row.trend_readings, row.trend_from) == (1, "own readings")
    twin = make_segment(1.6)
    fit(twin, make_mat(), 1, FITTED_ON)
    make_reading(twin, 1.1, FITTED_ON)
    services.reassess([twin.pk], on=ON)
    assert (row.trend_level_on, row.trend_level_db) == (FITTED_ON, pytest.approx(row_of(twin).trend_level_db))


def test_a_design_that_accepts_less_risk_has_its_cables_due_earlier():
    mats = make_pool()
    PolicyValue.objects.create(setting="accepted_risk", value=0.01, design=mats[0].design)
    services.assess_pool(ON)
    segment = mats[0].fittings.get(position=4).segment
    strict = row_of(segment).trend_due_on
    fitted, on_the_day = pool_fits.stored_fit(), {}
    for day in (strict, strict - timedelta(1)):
        on_the_day[day] = next(r for r in services.assessments(day, [segment.pk], fitted=fitted)).chance_over
    assert on_the_day[strict] >= 0.01 > on_the_day[strict - timedelta(1)]


def test_doubtful_and_no_signal_readings_stay_out_of_the_line():
    mats = make_pool()
    services.assess_pool(ON)
    before = pool_fits.stored_fit().model.readings
    segment = mats[0].fittings.get(position=1).segment
    make_reading(segment, 9.0, date(2026, 9, 1), doubt_reason="loose adapter")
    make_reading(segment, None, date(2026, 9, 2))
    services.assess_pool(ON)
    assert pool_fits.stored_fit().model.readings == before


def test_after_a_reading_its_segment_alone_answers_as_the_whole_pool_does():
    mats = make_pool()
    services.assess_pool(ON)
    segment = mats[0].fittings.get(position=3).segment
    with transaction.atomic():
        make_reading(segment, 2.2, ON)
        services.reassess([segment.pk], on=ON)
    alone = row_of(segment)
    whole = {row.segment_id: row for row in services.assessments(ON, fitted=pool_fits.stored_fit())}[segment.pk]
    assert alone.trend_readings == 6
    assert (alone.trend_due_on, alone.trend_expected_on) == (whole.trend_due_on, whole.trend_expected_on)
    assert alone.chance_over == pytest.approx(whole.chance_over, rel=1e-9)
    assert PoolTrend.objects.get().fitted_on == ON
