"""Two people at once: what they told is counted once, and one of two claims on a day is refused."""

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from factories import make_event, make_mat, make_person

from fleet.models import Event, MatDay, UsageEvent
from fleet.services.events import add_event, correct_event
from fleet.services.mat_days import SharedDays
from fleet.services.usage import UsageValues, answer_event, log_event

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
    assert [type(outcome) for outcome in refused(outcomes)] == [SharedDays]
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
