"""Usual use: one usage event a mat and month, on no day, never planned, until others of that month count."""

from collections import Counter
from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from factories import log_usage_event, make_event, make_mat, make_usage_event
from hypothesis import example, given
from hypothesis import strategies as st

from fleet.choices import UsageState
from fleet.models import Event, MatDay, UsageEvent
from fleet.selectors.loans import is_loan
from fleet.selectors.usage import events_around, last_time, mats_taken_along
from fleet.services.events import correct_event
from fleet.services.settling import UsageValues
from fleet.services.usage import call_off, correct_usage_event, log_event
from fleet.services.usual_use import say_usual_use, usual_days

YEAR = timedelta(days=365)


@given(times=st.integers(0, 366), on=st.dates(date(2019, 1, 1), date(2033, 12, 31)))
@example(times=12, on=date(2026, 11, 30))
@example(times=12, on=date(2028, 2, 29))
@example(times=12, on=date(2027, 1, 1))
def test_a_year_is_spread_over_twelve_months_and_told_whole(times, on):
    days = usual_days(times, on)
    shares = [share for _, share in days]
    assert sum(shares) == times
    assert all(on - YEAR < day <= on for day, _ in days)
    assert len({(day.year, day.month) for day, _ in days}) == len(days) == min(times, 12)
    assert max(shares, default=0) - min(shares, default=0) <= 1
    # this month only where hardly a day of it is left
    if (on + timedelta(days=2)).month == on.month:
        assert all((day.year, day.month) < (on.year, on.month) for day, _ in days)


@pytest.fixture
def mat(db):
    return make_mat("M-1", fitted=True, fitted_on=date(2024, 1, 10))


@pytest.fixture
def usual(mat):
    return make_usage_event(mat, make_event(date(2026, 8, 15)), basis="usual", counts_for=3)


def counts(mat, on):
    return sum(row.counts_for for row in UsageEvent.objects.counted(on).filter(mat=mat))


def test_it_gives_way_to_what_is_logged_and_counts_again_when_that_is_called_off(mat, usual, keeper, on):
    assert counts(mat, on) == 3
    row = log_usage_event(mat, make_event(date(2026, 8, 2)), by=keeper, on=on, state="went")
    assert (counts(mat, on), list(UsageEvent.objects.given_way(on))) == (1, [usual])
    call_off(row, by=keeper, on=on)
    assert (counts(mat, on), list(UsageEvent.objects.given_way(on))) == (3, [])


@pytest.mark.parametrize(
    ("other", "gives_way"),
    [
        ({"state": "went"}, True),
        ({"state": "planned"}, True),
        ({"state": "went", "basis": "reported"}, True),
        ({"state": "went", "basis": "assumed"}, True),
        ({"state": "called off"}, False),
        ({"state": "went", "basis": "usual"}, False),
        ({"state": "went", "day": date(2026, 8, 1)}, True),
        ({"state": "went", "day": date(2026, 8, 31), "days": 5}, True),
        ({"state": "went", "day": date(2026, 7, 31), "days": 5}, False),
        ({"state": "went", "day": date(2026, 9, 1)}, False),
        ({"state": "went", "day": date(2025, 8, 15)}, False),
        ({"state": "went", "of_another": True}, False),
    ],
)
def test_what_it_gives_way_to(mat, usual, on, other, gives_way):
    event = make_event(other.pop("day", date(2026, 8, 20)), other.pop("days", 1))
    make_usage_event(make_mat("M-2") if other.pop("of_another", False) else mat, event, **other)
    rows = UsageEvent.objects.with_gives_way(on)
    assert {row.pk: row.gives_way for row in rows}[usual.pk] is gives_way
    assert (usual in UsageEvent.objects.counted(on)) is not gives_way


def test_an_event_that_is_planned_and_not_over_lets_it_count(mat, usual):
    on = date(2026, 8, 20)
    make_usage_event(mat, make_event(date(2026, 8, 20)), state="planned")
    assert usual in UsageEvent.objects.counted(on)
    assert usual not in UsageEvent.objects.counted(on + timedelta(days=1))


def test_what_was_reported_never_gives_way(mat, on):
    loan = make_usage_event(mat, make_event(date(2026, 8, 3), 20), basis="reported", counts_for=6)
    make_usage_event(mat, make_event(date(2026, 8, 30)))
    assert loan in UsageEvent.objects.counted(on)


# --- what may be stored


def test_it_takes_no_day_so_an_event_on_its_day_asks_nothing(mat, keeper, on):
    event = make_event(date(2026, 8, 15))
    log_usage_event(mat, event, by=keeper, on=on, state="went", basis="usual")
    assert not MatDay.objects.exists()
    same_day = make_event(date(2026, 8, 15))
    log_event(same_day, {mat: UsageValues("went")}, by=keeper, on=on)
    assert list(MatDay.objects.values_list("usage_event__event", flat=True)) == [same_day.pk]


def test_corrected_to_an_event_that_was_counted_it_takes_its_day(mat, usual, keeper, on):
    correct_usage_event(usual, basis="counted", by=keeper, on=on)
    assert list(MatDay.objects.values_list("day", flat=True)) == [date(2026, 8, 15)]
    usual.refresh_from_db()
    correct_usage_event(usual, basis="usual", by=keeper, on=on)
    assert not MatDay.objects.exists()


def test_it_is_never_planned(mat, usual, keeper, on):
    with pytest.raises(ValidationError, match="Usual use is never planned"):
        correct_usage_event(usual, state="planned", by=keeper, on=on)
    with pytest.raises(ValidationError, match="Usual use is never planned"):
        log_event(make_event(date(2026, 10, 5)), {mat: UsageValues("planned", basis="usual")}, by=keeper, on=on)
    with pytest.raises(IntegrityError), transaction.atomic():
        UsageEvent.objects.filter(pk=usual.pk).update(state="planned")


def test_a_mat_has_one_a_month_and_the_refusal_names_it(mat, usual, keeper, on):
    second = make_event(date(2026, 8, 28))
    with pytest.raises(ValidationError, match=rf"M-1 has usual use in August 2026 already: {usual.event}"):
        log_event(second, {mat: UsageValues("went", basis="usual")}, by=keeper, on=on)
    log_event(second, {make_mat("M-2"): UsageValues("went", basis="usual")}, by=keeper, on=on)
    september = make_event(date(2026, 9, 15))
    log_event(september, {mat: UsageValues("went", basis="usual")}, by=keeper, on=on)
    with pytest.raises(ValidationError, match="August 2026"):
        correct_event(september, by=keeper, on=on, starts_on=date(2026, 8, 30), ends_on=date(2026, 8, 30))


def test_called_off_it_leaves_its_month_to_another(mat, usual, keeper, on):
    call_off(usual, by=keeper, on=on)
    log_event(make_event(date(2026, 8, 28)), {mat: UsageValues("went", basis="usual")}, by=keeper, on=on)
    usual.refresh_from_db()
    with pytest.raises(ValidationError, match="August 2026"):
        correct_usage_event(usual, state="went", by=keeper, on=on)


def test_it_is_no_loan(usual):
    assert not is_loan(usual.event, [usual])


# --- said of one mat


def usual_of(mat):
    rows = mat.usage_events.usual().exclude(state=UsageState.CALLED_OFF).order_by("event__starts_on")
    return Counter({f"{row.event.starts_on:%Y-%m}": row.counts_for for row in rows})


def test_how_often_a_mat_usually_goes_is_said_and_corrected(mat, keeper):
    on = date(2026, 9, 12)
    say_usual_use(mat, 24, by=keeper, on=on)
    months = [f"2025-{month:02d}" for month in range(9, 13)] + [f"2026-{month:02d}" for month in range(1, 9)]
    assert usual_of(mat) == Counter(dict.fromkeys(months, 2))
    rows = UsageEvent.objects.count()
    say_usual_use(mat, 6, by=keeper, on=on)
    assert (sum(usual_of(mat).values()), UsageEvent.objects.count()) == (6, rows)
    say_usual_use(mat, 36, by=keeper, on=on)
    assert (usual_of(mat), UsageEvent.objects.count()) == (Counter(dict.fromkeys(months, 3)), rows)
    changed = mat.usage_events.filter(version__gt=1).first()
    assert changed.history.first().history_change_reason == "usually 36 times a year"


def test_said_again_a_month_later_no_month_has_two(mat, keeper):
    say_usual_use(mat, 12, by=keeper, on=date(2026, 8, 28))
    say_usual_use(mat, 12, by=keeper, on=date(2026, 9, 28))
    assert set(usual_of(mat).values()) == {1}
    say_usual_use(mat, 0, by=keeper, on=date(2026, 9, 28))
    assert usual_of(mat) == {"2025-08": 1}


def test_mats_share_the_event_of_a_month(mat, keeper, on):
    say_usual_use(mat, 12, by=keeper, on=on)
    say_usual_use(make_mat("M-2"), 12, by=keeper, on=on)
    assert Event.objects.count() == 12


def test_of_a_withdrawn_mat_nothing_is_said(mat, keeper, on):
    type(mat).objects.filter(pk=mat.pk).update(withdrawn_on=on)
    with pytest.raises(ValidationError, match="M-1 is withdrawn"):
        say_usual_use(mat, 12, by=keeper, on=on)


# --- lists of events


def test_what_nobody_held_is_not_offered_again_nor_to_be_logged(mat, usual, on):
    held = make_event(date(2026, 8, 1), name="Hill run")
    make_usage_event(mat, held)
    make_usage_event(mat, make_event(date(2026, 8, 20), name="Other events of the month, as reported"))
    near = date(2026, 8, 14)
    assert last_time(on) == held
    assert events_around(near) == [held]
    assert usual.event in events_around(near, usual.event.code)


def test_mats_of_last_time_are_never_those_of_usual_use(mat, usual, on):
    held, other = make_event(date(2026, 8, 1), name="Hill run"), make_mat("M-2")
    make_usage_event(mat, held)
    make_usage_event(other, held, basis="usual")
    make_usage_event(other, usual.event, state="called off")
    assert last_time(on) == held
    assert mats_taken_along(held) == [mat.number]
