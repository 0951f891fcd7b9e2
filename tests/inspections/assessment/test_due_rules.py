"""What is due and why: the rules, one at a time, on real rows."""

from datetime import date, timedelta

import pytest
from factories import (
    fit,
    make_depot,
    make_design,
    make_event,
    make_fault,
    make_instrument,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)

from inspections.assessment.services import assessments
from inspections.models import PolicyValue

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
RECENTLY = date(2026, 9, 1)


def assess(segment, on=ON):
    return next(row for row in assessments(on) if row.segment_id == segment.pk)


@pytest.fixture
def mat():
    return make_mat("M-001")


@pytest.fixture
def segment(mat):
    segment = make_segment()
    fit(segment, mat, fitted_on=date(2025, 3, 1))
    return segment


def plan(mat, starts_on, days=1, **values):
    return make_usage_event(mat, make_event(starts_on, days), "planned", **values)


def test_age_counts_calendar_years_from_the_first_fitting(mat):
    segment = make_segment()
    fit(segment, mat, 1, date(2024, 2, 29), removed_on=date(2025, 1, 1))
    fit(segment, mat, 2, date(2025, 6, 1))
    assert assess(segment).age_due_on == date(2027, 2, 28)


def test_a_design_may_have_its_own_age_limit(segment, mat):
    PolicyValue.objects.create(setting="age_limit_years", value=2, design=mat.design)
    assert assess(segment).age_due_on == date(2027, 3, 1)


def test_events_are_counted_where_the_segment_was_fitted_at_the_time(mat):
    other, segment = make_mat("M-002"), make_segment(events_before=5)
    fit(segment, mat, 1, date(2026, 1, 1), removed_on=date(2026, 3, 1))
    fit(segment, other, 1, date(2026, 5, 1))
    for day in (date(2025, 12, 31), date(2026, 1, 1), date(2026, 2, 28), date(2026, 3, 1)):
        make_usage_event(mat, make_event(day))
    make_usage_event(other, make_event(date(2026, 4, 30)))
    make_usage_event(other, make_event(date(2026, 5, 1)), counts_for=12, basis="reported")
    assert assess(segment).event_count == 5 + 2 + 12


def test_called_off_events_do_not_count(segment, mat):
    make_usage_event(mat, make_event(RECENTLY), "called off")
    assert assess(segment).event_count == 0


def test_a_planned_event_counts_as_went_once_it_is_over_and_is_marked_not_confirmed(segment, mat):
    plan(mat, ON - timedelta(1), counts_for=3)
    plan(mat, ON - timedelta(1), days=2)
    row = assess(segment)
    assert (row.event_count, row.not_confirmed) == (3, 1)


def test_due_on_the_start_of_the_event_that_reached_the_limit(segment, mat):
    PolicyValue.objects.create(setting="event_limit", value=3)
    for month in (4, 5, 6, 7):
        make_usage_event(mat, make_event(date(2026, month, 4), days=2))
    row = assess(segment)
    assert (row.events_due_on, row.events_basis, row.cause, row.status) == (
        date(2026, 6, 4),
        "reached",
        "events",
        "change now",
    )


def test_at_the_limit_by_the_events_before_the_records_is_due_when_first_fitted(mat):
    segment = make_segment(events_before=150)
    fit(segment, mat, fitted_on=date(2026, 1, 7))
    row = assess(segment)
    assert (row.events_due_on, row.events_basis) == (date(2026, 1, 7), "reached")


def test_the_limit_is_projected_over_planned_events_first(segment, mat):
    PolicyValue.objects.create(setting="event_limit", value=3)
    make_usage_event(mat, make_event(date(2026, 8, 1)))
    plan(mat, date(2026, 10, 10))
    plan(mat, date(2026, 10, 17))
    row = assess(segment)
    assert (row.events_due_on, row.events_basis) == (date(2026, 10, 17), "planned")


def test_beyond_the_plans_the_mats_own_rate_of_the_last_365_days_holds(segment, mat):
    PolicyValue.objects.create(setting="event_limit", value=10)
    for day in (ON - timedelta(365), ON - timedelta(364), ON):
        make_usage_event(mat, make_event(day))
    plan(mat, date(2026, 12, 1))
    row = assess(segment)
    # 3 counted since fitting, 1 planned, 6 to go at 2 a year from the last planned start: ceil(365 · 6 / 2) days
    assert (row.event_count, row.events_basis) == (3, "usual rate")
    assert row.events_due_on == date(2026, 12, 1) + timedelta(1095)


def test_a_mat_that_does_not_go_out_has_no_date_by_events(segment):
    row = assess(segment)
    assert (row.events_due_on, row.events_basis) == (None, "")


def test_a_reading_over_the_limit_is_due_on_its_day(segment):
    make_reading(segment, 3.4, RECENTLY, instrument=make_instrument(standard_uncertainty_db=0.1))
    row = assess(segment)
    assert (row.verdict, row.loss_due_on, row.cause, row.status) == ("over", RECENTLY, "loss", "change now")


def test_inside_the_guard_band_a_reading_asks_for_another_and_is_not_due(segment):
    # JCGM 106:2012 clause 7.3 with u = 0.1 dB: undecided between 2.8355 and 3.1645 dB (1.6449 u)
    make_reading(segment, 2.9, RECENTLY, instrument=make_instrument(standard_uncertainty_db=0.1))
    row = assess(segment)
    assert (row.verdict, row.loss_due_on, row.status, row.measure_reason) == (
        "undecided",
        None,
        "measure",
        "undecided",
    )


def test_no_signal_is_over(segment):
    make_reading(segment, None, RECENTLY)
    row = assess(segment)
    assert (row.verdict, row.loss_db, row.loss_due_on) == ("over", None, RECENTLY)


def test_a_void_reading_counts_until_the_day_it_is_voided(segment):
    make_reading(segment, 1.2, date(2026, 8, 1))
    make_reading(segment, 4.0, RECENTLY, voided_on=date(2026, 9, 15), void_reason="wrong cable")
    assert assess(segment, date(2026, 9, 14)).verdict == "over"
    assert assess(segment, date(2026, 9, 15)).verdict == "within"


def test_repeats_of_a_day_are_one_reading_their_median(segment):
    for repeat, loss_db in enumerate((1.9, 1.2, 1.3), 1):
        make_reading(segment, loss_db, RECENTLY, repeat=repeat)
    assert assess(segment).loss_db == 1.3


def test_after_cleaning_stands_for_the_day_and_as_found_is_kept(segment):
    make_reading(segment, 3.9, RECENTLY)
    make_reading(segment, 1.4, RECENTLY, repeat=2, taken="after cleaning")
    assert assess(segment).loss_db == 1.4


def test_a_reading_far_from_900_mhz_is_kept_but_not_compared(segment):
    make_reading(segment, 1.4, date(2026, 8, 1))
    make_reading(segment, 5.0, RECENTLY, frequency_mhz=2450)
    assert (assess(segment).loss_db, assess(segment).measured_on) == (1.4, date(2026, 8, 1))


def test_a_doubtful_reading_keeps_its_verdict_and_asks_for_a_new_one(segment):
    make_reading(segment, 1.4, RECENTLY, doubt_reason="loose adapter")
    row = assess(segment)
    assert (row.verdict, row.status, row.measure_reason) == ("within", "measure", "doubtful")


def test_damage_is_due_from_the_report_until_it_ends(segment, mat):
    make_fault(mat, "connector", 1, date(2026, 9, 10), ended_on=date(2026, 9, 20), end_reason="repair")
    row = assess(segment, date(2026, 9, 19))
    assert (row.cause, row.due_on, row.damage_place) == ("damage", date(2026, 9, 10), "connector")
    assert assess(segment, date(2026, 9, 20)).damage_due_on is None


def test_damage_goes_with_its_segment_and_not_with_the_position(mat):
    damaged, fresh, other = make_segment(), make_segment(), make_mat("M-002")
    fit(damaged, mat, 1, date(2026, 1, 1), removed_on=date(2026, 9, 12))
    make_fault(mat, "cable", 1, date(2026, 9, 10))
    fit(fresh, mat, 1, date(2026, 9, 12))
    fit(damaged, other, 1, date(2026, 9, 13))
    assert assess(damaged).damage_due_on == date(2026, 9, 10)
    assert assess(fresh).damage_due_on is None


def test_other_faults_make_no_segment_due(segment, mat):
    make_fault(mat, "cover or fold", None, RECENTLY)
    assert assess(segment).damage_due_on is None


def test_change_before_names_the_first_planned_event_from_the_due_date_on(mat):
    segment = make_segment()
    fit(segment, mat, fitted_on=date(2023, 12, 31))
    plan(mat, date(2026, 12, 26))
    wanted = plan(mat, date(2027, 4, 3), days=2)
    row = assess(segment)
    assert (row.status, row.before_event, row.wanted_on) == ("change before", wanted.event, date(2027, 4, 3))


def test_an_event_that_ends_on_the_due_date_is_one_to_change_before(mat):
    segment = make_segment()
    fit(segment, mat, fitted_on=date(2023, 12, 27))
    wanted = plan(mat, date(2026, 12, 26), days=2)
    assert assess(segment).before_event == wanted.event


def test_within_the_look_ahead_without_an_event(mat):
    soon, later = make_segment(), make_segment()
    fit(soon, mat, 1, fitted_on=ON - timedelta(3 * 365 + 1) + timedelta(90))
    fit(later, mat, 2, fitted_on=ON - timedelta(3 * 365 + 1) + timedelta(91))
    make_reading(later, 1.0, RECENTLY)
    assert [assess(soon).status, assess(later).status] == ["change within look-ahead", "ok"]


def test_of_two_open_faults_of_one_cable_the_earlier_is_the_day_of_damage(segment, mat):
    make_fault(mat, "connector", 1, reported_on=date(2026, 9, 20))
    make_fault(mat, "cable", 1, reported_on=date(2026, 9, 4))
    row = assess(segment)
    assert (row.damage_due_on, row.damage_place) == (date(2026, 9, 4), "cable")


def test_of_two_faults_of_one_day_the_lowest_number_is_named(segment, mat):
    make_fault(mat, "connector", 1, number=2)
    make_fault(mat, "cable", 1, number=1)
    assert assess(segment).damage_place == "cable"


def test_a_depot_with_a_bench_asks_for_a_measurement_each_year(mat):
    measured, never = make_segment(), make_segment()
    fit(measured, mat, 1, date(2025, 9, 1))
    fit(never, mat, 2, date(2025, 9, 1))
    make_reading(measured, 1.0, date(2025, 9, 29))
    assert [assess(s).measure_reason for s in (measured, never)] == ["measured long ago", "never measured"]


@pytest.mark.parametrize(("measured_on", "reason"), [(date(2025, 9, 30), ""), (date(2025, 9, 29), "measured long ago")])
def test_a_reading_of_exactly_the_age_that_the_policy_allows_is_not_older_yet(segment, measured_on, reason):
    make_reading(segment, 1.0, measured_on)
    assert assess(segment).measure_reason == reason


def test_a_depot_without_a_bench_asks_for_none():
    depot = make_depot("Hangar 2")
    PolicyValue.objects.create(setting="has_bench", value=0, depot=depot)
    segment = make_segment()
    fit(segment, make_mat(depot=depot), fitted_on=date(2025, 3, 1))
    assert (assess(segment).measure_reason, assess(segment).status) == ("", "ok")


def test_not_later_than_and_never_measured_is_unknown_and_never_ok():
    depot = make_depot()
    PolicyValue.objects.create(setting="has_bench", value=0, depot=depot)
    segment = make_segment()
    fit(segment, make_mat(depot=depot), fitted_on=date(2025, 3, 1), fitted_basis="not later than")
    row = assess(segment)
    assert (row.status, row.age_due_on) == ("unknown", date(2028, 3, 1))
    make_reading(segment, 1.1, RECENTLY)
    assert assess(segment).status == "ok"


def test_spares_removed_segments_and_withdrawn_mats_are_not_assessed(mat):
    spare, removed, stored = make_segment(), make_segment(), make_segment()
    fit(removed, mat, 1, date(2024, 1, 1), removed_on=ON)
    fit(stored, make_mat(withdrawn_on=ON), 1)
    assert assessments(ON) == []
    assert {row.segment for row in assessments(ON - timedelta(1))} == {removed, stored}
    assert spare not in {row.segment for row in assessments(ON - timedelta(1))}


def test_longer_segment_with_the_same_history_is_assessed_against_its_own_designs_limit():
    strict = make_mat("M-003", make_design("strict"))
    PolicyValue.objects.create(setting="loss_limit_db", value=1.0, design=strict.design)
    segment = make_segment()
    fit(segment, strict)
    make_reading(segment, 1.6, RECENTLY)
    assert (assess(segment).verdict, assess(segment).loss_limit_db) == ("over", 1.0)
