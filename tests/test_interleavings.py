"""Two people at once on PostgreSQL: whatever comes between what, they end as if one had come after the other.

Small here: some pairs of acts, each stopped before its commit. `HALFPOWER_INTERLEAVINGS=all python3
tests/on_postgres.py tests/test_interleavings.py -s` steps all pairs, and stops each act before every statement.
"""

import os
from datetime import date
from itertools import count

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from factories import make_person
from interleavings import AT_ITS_END, failures, interleave
from invariants import broken
from races_scenarios import SCENARIOS

from fleet.models import CableSegment
from inspections.assessment.services import assess_pool, reassess

ON = date(2026, 9, 30)
ALL = os.environ.get("HALFPOWER_INTERLEAVINGS") == "all"
# one of each kind of wrong that there was
SMALL = {
    "a_run_taken_back_twice",
    "a_run_taken_back_while_its_mat_is_planned",
    "a_withdrawn_cable_is_fitted",
    "a_mat_gets_a_design_without_a_position_just_filled",
    "a_deleted_position_has_a_fault",
    "a_mat_comes_with_a_cable_to_a_deleted_position",
    "two_corrections_overlap",
    "two_swaps_of_two_cables",
    "a_withdrawn_mat_is_planned",
    "a_withdrawn_mat_in_a_series",
    "two_new_events_with_the_same_mats",
    "two_events_of_one_name_and_day",
    "readings_of_a_cable_that_was_not_there",
    "readings_judged_by_an_old_instrument",
    "a_bench_day_of_two_mats",
    "an_open_line_of_a_cable_that_is_out",
    "an_order_signed_off_twice",
    "files_fit_a_withdrawn_cable",
    "a_deleted_fitting_gets_a_later_one",
    "a_deleted_mat_is_planned",
    "two_accounts_of_one_name",
    "the_last_of_a_pile_is_thrown_away_and_gets_a_serial",
    "a_spare_is_moved_while_it_is_fitted",
}


def acts_of(scenario, by):
    newest = CableSegment.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    acts = scenario(by, ON)
    reassess(CableSegment.objects.filter(pk__gt=newest).values_list("pk", flat=True), on=ON)
    return acts


def one_after_the_other(first, second):
    return is_done(first), is_done(second)


def is_done(act):
    try:
        act()
    except ValidationError:
        return False
    return True


def outcomes_in_turn(scenario, by):
    """Which of the two acts may be done and which refused: what either order comes to."""
    one, other = acts_of(scenario, by)
    in_order = one_after_the_other(one, other)
    one, other = acts_of(scenario, by)
    return {in_order, one_after_the_other(other, one)[::-1]}


def wrong_when_stepped(scenario, by, expected, swapped, stop_at):
    """(sentences, whether the first act came as far as that)"""
    acts = acts_of(scenario, by)
    first, second = interleave(*(acts[::-1] if swapped else acts), stop_at=stop_at)
    came_to = tuple(not isinstance(act.outcome, Exception) for act in (first, second))
    wrong = failures(first, second)
    if (came_to[::-1] if swapped else came_to) not in expected:
        wrong.append(f"{first.outcome!r} and {second.outcome!r}: neither order comes to that")
    return wrong, stop_at is AT_ITS_END or first.statements >= stop_at


def wrong_of(scenario, by):
    """(sentences, interleavings tried)"""
    expected, tried = outcomes_in_turn(scenario, by), 0
    for swapped in (False, True):
        for stop_at in count(1) if ALL else [AT_ITS_END]:
            wrong, stopped = wrong_when_stepped(scenario, by, expected, swapped, stop_at)
            tried += 1
            if wrong:
                return [f"swapped: {swapped}, stopped before {stop_at}: {sentence}" for sentence in wrong], tried
            if not stopped:
                break
    return broken(ON), tried


@pytest.mark.skipif("not os.environ.get('DATABASE_URL', '').startswith('postgres')", reason="SQLite queues writers")
@pytest.mark.django_db(transaction=True)
def test_two_at_once_end_as_if_one_came_after_the_other():
    wrong, tried = {}, 0
    scenarios = SCENARIOS if ALL else [act for act in SCENARIOS if act.__name__ in SMALL]
    for scenario in scenarios:
        call_command("flush", interactive=False, verbosity=0)
        assess_pool(ON)
        sentences, steps = wrong_of(scenario, make_person("by"))
        tried += steps
        if sentences:
            wrong[scenario.__name__] = sentences
            print(scenario.__name__, sentences, flush=True)
    print(f"{len(scenarios)} scenarios, {tried} interleavings, {len(wrong)} scenarios wrong")
    assert wrong == {}
