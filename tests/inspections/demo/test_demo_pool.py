"""The invented pool of the demo: the same for one day, never against the rules, something of everything due."""

from collections import Counter
from dataclasses import fields
from datetime import date, timedelta
from itertools import pairwise

import pytest
from django.contrib.auth.models import User
from django.db.models import F
from factories import make_mat

from fleet.models import CableSegment, Event, Fitting, Load, Mat, MatDay, UsageEvent
from inspections.batches.selectors import batch_page
from inspections.demo import left_longer, scenarios
from inspections.demo.rows import demo_rows
from inspections.demo.services import fill_demo_pool, is_demo_pool
from inspections.length_limits.proposal_services import proposed_of
from inspections.length_limits.services import pool_limits
from inspections.models import Assessment, Batch, Measurement
from inspections.numeric.words import Status
from inspections.pool_life.group_services import pool_life

ON = date(2026, 9, 30)
DAYS = [ON, date(2028, 2, 29), date(2027, 12, 31), date(2026, 1, 4), date(2029, 6, 17)]


def as_text(rows):
    """Every field of every row, foreign keys by what they say."""

    def said(row):
        return [str(getattr(row, field.name)) for field in row._meta.fields if field.name != "recorded_at"]

    return {field.name: [said(row) for row in getattr(rows, field.name)] for field in fields(rows)}


def test_one_seed_and_day_make_the_same_pool_again():
    assert as_text(demo_rows(ON)) == as_text(demo_rows(ON))


def test_another_seed_makes_another_pool():
    assert as_text(demo_rows(ON, seed=1)) != as_text(demo_rows(ON, seed=2))


@pytest.fixture(scope="module", params=DAYS, ids=str)
def rows(request):
    return request.param, demo_rows(request.param)


def test_there_are_three_depots_and_designs_and_eight_years_of_some_forty_events(rows):
    on, pool = rows
    assert [depot.name for depot in pool.depots] == ["Quay Street", "Upper Mill", "Hangar 2"]
    assert Counter(mat.design.code for mat in pool.mats) == {"Fen 200": 18, "Fen 400": 18, "Fen 600": 12}
    assert Counter(row.design.code for row in pool.positions) == {"Fen 200": 4, "Fen 400": 8, "Fen 600": 12}
    a_year = [event for event in pool.events if on - timedelta(days=365) <= event.starts_on < on]
    assert 35 <= len(a_year) <= 45
    assert timedelta(days=7.7 * 365) < on - min(event.starts_on for event in pool.events) <= timedelta(days=8 * 366)
    assert max(row.length_m for row in pool.segments) == 3.9


def test_no_number_or_day_is_one_that_a_form_would_ask_about(rows):
    on, pool = rows
    lists = [getattr(pool, field.name) for field in fields(pool)]
    values = {
        (name, limit, value if not isinstance(value, list) else tuple(value))
        for row in (row for rows in lists for row in rows if hasattr(row, "limits"))
        for name, limit in row.limits.items()
        if (value := getattr(row, name)) is not None
    }
    assert len(values) > 1000
    for name, limit, value in values:
        value = list(value) if isinstance(value, tuple) else value
        limit.check(value)
        assert limit.unusual(value, on) == "", name


def test_nothing_that_happened_is_dated_after_the_day(rows):
    on, pool = rows
    assert all(reading.measured_on <= on for reading in pool.readings)
    assert all(row.fitted_on <= (row.removed_on or row.fitted_on) <= on for row in pool.fittings)
    assert all(row.reported_on <= (row.ended_on or on) <= on for row in pool.faults)
    assert all(row.event.ends_on < on for row in pool.usage_events if row.state == "went")
    assert all(mat.acquired_on <= on for mat in pool.mats)


def test_no_mat_is_at_two_events_on_one_day(rows):
    _, pool = rows
    taken = Counter(
        (row.mat.number, row.event.starts_on + timedelta(days=number))
        for row in pool.usage_events
        if row.state != "called off"
        for number in range((row.event.ends_on - row.event.starts_on).days + 1)
    )
    assert max(taken.values()) == 1


def test_no_position_and_no_cable_is_taken_twice_at_once(rows):
    _, pool = rows
    for key in (lambda row: (row.mat.number, row.position), lambda row: row.segment.serial):
        spans = sorted((key(row), row.fitted_on, row.removed_on or date.max) for row in pool.fittings)
        assert all(first[2] <= then[1] for first, then in pairwise(spans) if first[0] == then[0])


def test_cables_of_a_few_mats_by_lot_were_left_in_for_longer_and_are_out_by_now(rows):
    on, pool = rows
    drawn = {note.mat.number: note for note in pool.notes}
    assert Counter(note.mat.design.code for note in pool.notes) == {"Fen 200": 3, "Fen 400": 4, "Fen 600": 6}
    assert all(note.done_on < on for note in pool.notes)
    here = [row for row in pool.fittings if row.mat.number in drawn]
    assert sum(row.removal_reason == left_longer.OLD for row in here) > 20
    assert not [row for row in here if row.removed_on is None and (on - row.fitted_on).days > 3 * 365]
    elsewhere = [row for row in pool.fittings if row.mat.number not in drawn and row.removed_on]
    assert not {left_longer.OLD, left_longer.GIVEN_UP} & {row.removal_reason for row in elsewhere}


def test_what_is_left_in_is_read_because_it_was_drawn_until_it_reads_over(rows):
    _, pool = rows
    notes = {note.mat.number: note for note in pool.notes}
    spans = {}
    for row in pool.fittings:
        if row.mat.number in notes:
            spans.setdefault(id(row.segment), []).append((row, notes[row.mat.number]))
    read = [
        (reading, row)
        for reading in pool.readings
        for row, note in spans.get(id(reading.segment), ())
        if max(note.noted_on, row.fitted_on) < reading.measured_on < min(note.done_on, row.removed_on or date.max)
        and reading.reason != "new"
    ]
    assert {reading.reason for reading, _ in read} == {"sample"}
    assert max((reading.measured_on - row.fitted_on).days for reading, row in read) > 5.5 * 365
    assert len({id(row) for _, row in read if row.removal_reason == "loss over the limit"}) >= 8


@pytest.mark.django_db
@pytest.mark.parametrize("on", DAYS[:3], ids=str)
def test_each_status_occurs_and_most_of_the_pool_is_ok(on):
    fill_demo_pool(on)
    found = Counter(row.status for row in Assessment.objects.all())
    assert set(found) == set(Status)
    assert found[Status.OK] > 0.6 * found.total()
    assert found[Status.CHANGE_NOW] < 0.1 * found.total()
    due = Assessment.objects.filter(urgency=Status.CHANGE_NOW.order)
    assert {"age", "loss", "damage"} <= set(due.values_list("cause", flat=True))


@pytest.mark.django_db
def test_a_keepers_own_pool_is_left_alone_and_gets_no_account_with_a_known_password():
    make_mat("K-1")
    assert not fill_demo_pool(ON)
    assert not is_demo_pool()
    assert [mat.number for mat in Mat.objects.all()] == ["K-1"]
    assert not User.objects.exists()


@pytest.fixture(scope="module")
def pool_of_the_day(shared_rows):
    """Filled once: tests that want a pool without rows stand above."""
    with shared_rows(lambda: fill_demo_pool(ON)) as was_filled:
        assert was_filled
        yield


@pytest.fixture
def filled(pool_of_the_day, db):
    """That pool, each test's changes taken back."""


def test_a_new_lot_with_two_bad_cables_and_a_box_that_is_not_done_yet_are_there(filled):
    new, used = (batch_page(batch, ON) for batch in Batch.objects.order_by("number"))
    assert (new.fit, new.unfit, new.again, bool(new.batch.ended_on)) == (18, 2, 0, True)
    assert (used.fit, used.unfit, used.again, bool(used.batch.ended_on)) == (5, 2, 1, False)


def test_its_history_says_what_to_change_first_and_what_to_leave_longer(filled):
    whole = pool_life(ON).whole.life
    assert whole.failures >= 10
    assert 5.5 < whole.watched_until < 6
    found = proposed_of(pool_limits(ON, ON))
    assert {each.comes_first for each in found} == {True, False}
    assert max(each.value for each in found) > 5


def test_the_oddities_of_a_real_pool_are_there(filled):
    assert Event.objects.filter(starts_on__gt=ON, usage_events__state="planned").exists()
    assert UsageEvent.objects.not_confirmed(ON).values("event").distinct().count() == 1
    assert UsageEvent.objects.filter(counts_for__gt=1, basis="reported").exists()
    assert UsageEvent.objects.filter(state="called off").exists()
    assert Mat.objects.get(number=scenarios.HELD_BACK).faults.holding_back(ON).count() == 1
    assert Mat.objects.filter(withdrawn_on__lt=ON).count() == 1
    assert CableSegment.objects.on_shelf(ON).count() > 20
    assert {"not later than", "about"} <= set(Fitting.objects.values_list("fitted_basis", flat=True))
    moved = Fitting.objects.filter(removal_reason__startswith="moved to")
    assert moved.exists() and all(row.segment.fittings.count() == 2 for row in moved)
    number, position = scenarios.EMPTY_POSITION
    assert not Fitting.objects.current(ON).filter(mat__number=number, position=position).exists()


def test_readings_are_of_every_sort(filled):
    assert set(Measurement.objects.values_list("taken", flat=True)) == {"as found", "after cleaning", "at fitting"}
    assert set(Measurement.objects.values_list("reason", flat=True)) == {"sample", "suspect", "routine", "new"}
    assert Measurement.objects.filter(no_signal=True).count() == 1
    assert Measurement.objects.filter(repeat__gt=1, taken="as found").exists()
    voided = Measurement.objects.get(voided_on__lte=ON)
    doubtful = Measurement.objects.exclude(doubt_reason="").get()
    for reading in (voided, doubtful):
        assert [entry.history_type for entry in reading.history.order_by("history_id")] == ["+", "~"]
    assert not Measurement.objects.filter(segment__fittings__mat__depot__name="Hangar 2").exists()


def test_days_are_kept_for_each_usage_event_and_the_load_is_named(filled):
    load = Load.objects.get()
    assert load.loaded_by.username == "ida"
    assert not Fitting.objects.exclude(load=load, recorded_by=load.loaded_by).exists()
    without_days = UsageEvent.objects.filter(days=None)
    assert set(without_days.values_list("state", flat=True)) == {"called off"}
    assert MatDay.objects.filter(planned=True, usage_event__state="planned").exists()
    assert not MatDay.objects.filter(day__lt=F("usage_event__event__starts_on")).exists()


def test_the_pool_is_filled_once_and_what_was_done_since_stays(filled):
    Mat.objects.filter(number="M-001").update(owner="Somebody else")
    ida = User.objects.get(username="ida")
    ida.set_password("my-own-word-3")
    ida.save()
    assert not fill_demo_pool(ON + timedelta(days=1))
    assert Mat.objects.count() == 48
    assert Mat.objects.get(number="M-001").owner == "Somebody else"
    assert User.objects.get(username="ida").check_password("my-own-word-3")
