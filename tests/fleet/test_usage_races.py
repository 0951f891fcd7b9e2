"""Two people at once: what they told is counted once, and one of two claims on a day is refused."""

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from factories import make_event, make_mat, make_person

from fleet.models import Event, MatDay, UsageEvent
from fleet.services.events import add_event, correct_event
from fleet.services.mat_days import DoubleBooked
from fleet.services.series import repeat_event
from fleet.services.series_following import WeekValues, change_following
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, log_event

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*acts):
    """Run each act in a thread of its own, all started together; what each returned or was refused with."""
    gate, outcomes = Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        gate.wait()
        try:
            outcomes[number] = act()
        except ValidationError as refused:
            outcomes[number] = refused
        finally:
            connection.close()

    threads = [Thread(target=run, args=(number, act)) for number, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def refused(outcomes):
    return [outcome for outcome in outcomes if isinstance(outcome, ValidationError)]


def test_two_people_log_the_same_mats_at_once_and_they_count_once(on):
    by, event, mats = make_person(), make_event(on), [make_mat() for _ in range(5)]
    usage = dict.fromkeys(mats, UsageValues("went", hours_out=6.0))
    outcomes = at_once(*[lambda: log_event(event, usage, by=by, on=on)] * 4)
    assert not refused(outcomes)
    assert (UsageEvent.objects.count(), MatDay.objects.count()) == (5, 5)
    assert set(UsageEvent.objects.values_list("version", flat=True)) == {1}


def test_two_people_plan_one_mat_for_two_events_and_one_is_refused(on):
    by, mat = make_person(), make_mat()
    events = [make_event(on + timedelta(days=2)) for _ in range(4)]
    acts = [lambda event=event: log_event(event, {mat: UsageValues("planned")}, by=by, on=on) for event in events]
    assert len(refused(at_once(*acts))) == 3
    assert (UsageEvent.objects.count(), MatDay.objects.count()) == (1, 1)


def test_of_two_events_that_a_mat_went_to_at_once_one_is_asked_back(on):
    by, mat = make_person(), make_mat()
    acts = [
        lambda event=event: log_event(event, {mat: UsageValues("went")}, by=by, on=on)
        for event in (make_event(on), make_event(on))
    ]
    outcomes = at_once(*acts)
    assert [type(outcome) for outcome in refused(outcomes)] == [DoubleBooked]
    assert UsageEvent.objects.count() == 1


def test_of_two_answers_at_once_the_first_holds(on):
    by, event, mat = make_person(), make_event(on - timedelta(days=1)), make_mat()
    log_event(event, {mat: UsageValues("planned")}, by=by, on=on - timedelta(days=3))
    outcomes = at_once(
        lambda: answer_event(event, "went", by=by, on=on), lambda: answer_event(event, "called off", by=by, on=on)
    )
    assert sorted(outcomes) == [0, 1]
    row = UsageEvent.objects.get()
    assert row.version == 2
    assert MatDay.objects.count() == (1 if row.state == "went" else 0)


def test_moving_an_event_while_its_mats_are_logged_leaves_days_that_fit(on):
    by, event, mats = make_person(), make_event(on + timedelta(days=2)), [make_mat() for _ in range(3)]
    day = on + timedelta(days=9)
    at_once(
        lambda: correct_event(Event.objects.get(), by=by, on=on, starts_on=day, ends_on=day),
        lambda: log_event(event, dict.fromkeys(mats, UsageValues("planned")), by=by, on=on),
    )
    assert set(MatDay.objects.values_list("day", flat=True)) == {Event.objects.get().starts_on}
    assert MatDay.objects.count() == 3


def test_events_added_at_once_get_codes_of_their_own(on):
    by = make_person()
    acts = [lambda number=number: add_event(by=by, name=f"Run {number}", starts_on=on) for number in range(4)]
    assert not refused(at_once(*acts))
    assert sorted(Event.objects.values_list("code", flat=True)) == [f"E-2026-0{number}" for number in range(1, 5)]


def test_two_people_repeat_an_event_at_once_and_one_series_stands(on):
    by, mat, event = make_person(), make_mat(), make_event(on)
    log_event(event, {mat: UsageValues("went")}, by=by, on=on)
    until = on + timedelta(weeks=5)
    outcomes = at_once(*[lambda: repeat_event(event, every_weeks=1, until=until, by=by, on=on)] * 3)
    assert len(refused(outcomes)) == 2
    assert (Event.objects.count(), MatDay.objects.count()) == (6, 6)


def test_two_series_for_one_mat_on_the_same_days_and_one_is_refused_whole(on):
    by, mat = make_person(), make_mat()
    first, second = make_event(on), make_event(on + timedelta(weeks=1))
    for event in (first, second):
        log_event(event, {mat: UsageValues("planned")}, by=by, on=on)
    rule = {"until": on + timedelta(weeks=6), "by": by, "on": on}
    outcomes = at_once(
        lambda: repeat_event(first, every_weeks=2, **rule), lambda: repeat_event(second, every_weeks=1, **rule)
    )
    assert len(refused(outcomes)) == 1
    assert MatDay.objects.values("day").distinct().count() == MatDay.objects.count()


def test_a_week_answered_while_the_rest_is_changed_is_answered_or_changed_never_both(on):
    by, mat, event = make_person(), make_mat(), make_event(on)
    log_event(event, {mat: UsageValues("planned")}, by=by, on=on)
    repeat_event(event, every_weeks=1, until=on + timedelta(weeks=4), by=by, on=on)
    week = WeekValues("Moved", "", (on.weekday() + 1) % 7, 1, (mat,))
    at_once(
        lambda: change_following(event, week, by=by, on=on),
        lambda: answer_event(event, "went", by=by, on=on),
    )
    event.refresh_from_db()
    row = event.usage_events.get()
    assert (event.name, row.state) in {("Moved", "planned"), (event.name, "went")}
    assert MatDay.objects.filter(usage_event=row).count() == 1
    assert MatDay.objects.get(usage_event=row).day == event.starts_on
