"""Work on one table, against published examples, and against trying everything."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.table_time import (
    Job,
    earliest_due_first,
    fewest_late,
    fit_in,
    placed,
    worst_lateness,
)

HORIZON = 60


def jobs_of(lengths, dues, releases=None):
    releases = releases or [0] * len(lengths)
    return [Job(p, d, ((r, HORIZON * 3),)) for p, d, r in zip(lengths, dues, releases, strict=True)]


def worst(jobs, order):
    return max(placed(jobs, [number - 1 for number in order]).lateness)


def test_earliest_due_first_agrees_with_the_example_of_kleinberg_and_tardos():
    """Jobs 3 2 1 4 3 2, due 6 8 9 9 14 15 (after Jackson 1955; from memory, brute force agrees): worst lateness 1."""
    jobs = jobs_of([3, 2, 1, 4, 3, 2], [6, 8, 9, 9, 14, 15])
    plan = fit_in(jobs, worst_lateness)
    assert plan.lateness == (-3, -3, -3, 1, -1, 0)
    assert earliest_due_first(jobs) == [0, 1, 2, 3, 4, 5]


def test_shortest_first_and_least_slack_first_are_worse_than_earliest_due_first():
    """Counter-examples in circulation: shortest first is 1 late where nothing need be; slack 3 in place of 1."""
    shortest = jobs_of([1, 5], [10, 5])
    assert worst(shortest, [1, 2]) == 1
    assert max(fit_in(shortest).lateness) <= 0
    slack = jobs_of([1, 5], [3, 5])
    assert worst(slack, [2, 1]) == 3
    assert max(fit_in(slack, worst_lateness).lateness) == 1


def test_days_of_release_agree_with_the_branch_and_bound_example_of_pinedo():
    """Pinedo, *Scheduling*, one machine with release dates: the best is 1-3-4-2 with a worst lateness of 5.

    In time order, without filling gaps: 2 first 7; 1-2 first 6; 4 first 10 (its text says 9, which is a slip).
    """
    jobs = jobs_of([4, 2, 6, 5], [8, 12, 11, 10], [0, 1, 3, 5])
    assert max(fit_in(jobs, worst_lateness).lateness) == 5
    assert best_of(jobs, worst_lateness, starting=[1]) == (7,)
    assert best_of(jobs, worst_lateness, starting=[0, 1]) == (6,)
    assert best_of(jobs, worst_lateness, starting=[3]) == (10,)
    assert fit_in(jobs, worst_lateness).starts == (0, 15, 4, 10)


def test_a_long_job_is_not_begun_just_before_an_urgent_one_comes_home():
    """Derived: begun at once the second is 9 late; waiting for it leaves nothing late."""
    jobs = jobs_of([10, 1], [100, 2], [0, 1])
    assert fit_in(jobs).starts == (2, 1)
    assert in_time_order(jobs, [0, 1]).lateness[1] == 9


def test_fewest_jobs_are_late_as_in_the_example_of_moore_and_hodgson():
    """Pinedo, example 3.3.3 (from memory, brute force agrees): two late; earliest due first leaves three, worst 10."""
    jobs = jobs_of([7, 8, 4, 6, 6], [9, 17, 18, 19, 21])
    assert len(fit_in(jobs).late) == 2
    by_due_alone = placed(jobs, earliest_due_first(jobs))
    assert (len(by_due_alone.late), max(by_due_alone.lateness)) == (3, 10)


def in_time_order(jobs, order):
    """One after the other on a single clock, each as soon as it can: no gap is filled by a later one of the order."""
    clock, starts = 0, {}
    for number in order:
        job = jobs[number]
        fits = [max(first, clock) for first, last in job.windows if max(first, clock) + job.length <= last]
        starts[number] = min(fits, default=None)
        clock = clock if not fits else starts[number] + job.length
    return type(placed(jobs, order))(tuple(jobs), tuple(starts[number] for number in range(len(jobs))))


def best_of(jobs, badness, starting=()):
    rest = [number for number in range(len(jobs)) if number not in starting]
    orders = ([*starting, *order] for order in permutations(rest))
    return min(badness(in_time_order(jobs, order).lateness) for order in orders)


@st.composite
def windowed_jobs(draw, most):
    jobs = []
    for _ in range(draw(st.integers(1, most))):
        ends = sorted(draw(st.lists(st.integers(0, 20), min_size=2, max_size=4, unique=True)))
        windows = tuple(zip(ends[::2], ends[1::2], strict=False))
        jobs.append(Job(draw(st.integers(1, 5)), draw(st.none() | st.integers(1, 20)), windows))
    return jobs


@pytest.mark.parametrize("badness", [fewest_late, worst_lateness])
@given(jobs=windowed_jobs(most=5))
def test_of_few_jobs_no_order_is_better_than_the_plan(badness, jobs):
    plan = fit_in(jobs, badness)
    if plan.late:
        assert badness(plan.lateness) == best_of(jobs, badness)


def test_of_eight_jobs_no_order_is_better_than_the_plan():
    lengths, dues = [3, 2, 5, 4, 1, 6, 2, 3], [4, 6, 9, 9, 12, 15, 16, 18]
    jobs = jobs_of(lengths, dues, [0, 2, 1, 5, 9, 3, 12, 7])
    assert fewest_late(fit_in(jobs).lateness) == best_of(jobs, fewest_late)


@given(windowed_jobs(most=10))
def test_a_plan_keeps_each_job_whole_inside_a_window_and_the_table_to_one_at_a_time(jobs):
    plan = fit_in(jobs)
    taken = []
    for number, job in enumerate(jobs):
        start, end = plan.starts[number], plan.end(number)
        if start is None:
            assert plan.lateness[number] == float("inf")
            continue
        assert any(first <= start and end <= last for first, last in job.windows)
        taken += range(start, end)
    assert len(set(taken)) == len(taken)
    assert fewest_late(plan.lateness) <= fewest_late(placed(jobs, earliest_due_first(jobs)).lateness)


@given(windowed_jobs(most=7))
def test_what_has_no_place_had_none_free(jobs):
    """No job that was left out fits anywhere beside what was placed."""
    plan = fit_in(jobs)
    busy = {
        slot
        for number in range(len(jobs))
        if plan.starts[number] is not None
        for slot in range(plan.starts[number], plan.end(number))
    }
    for job, start in zip(jobs, plan.starts, strict=True):
        if start is None:
            for first, last in job.windows:
                assert not any(
                    busy.isdisjoint(range(at, at + job.length)) for at in range(first, last - job.length + 1)
                )
