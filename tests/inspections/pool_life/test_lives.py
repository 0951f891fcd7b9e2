"""Lives out of what is on record: each kind of cable made as people make it, and what it counts as."""

from datetime import timedelta

import numpy as np
import pytest
from factories import (
    fit,
    make_event,
    make_fault,
    make_mat,
    make_reading,
    make_segment,
    make_tester,
    make_usage_event,
    set_policy_value,
)
from life_data import cracked_parts, drawn_pool, wheels
from life_pools import make_pool_of_lives

from fleet.models import Fitting
from inspections.numeric.words import Clock
from inspections.pool_life.cable_services import checks_of, read_cables
from inspections.pool_life.group_services import pool_life
from inspections.pool_life.life_services import DAMAGED, FOUND_OVER, cable_ends, cable_lives

pytestmark = pytest.mark.django_db

INF = np.inf
IN, OVER = 1.2, 4.5


def lives_of(on, clock=Clock.YEARS, *, suspect=False, **how):
    cables = read_cables(on)
    return cable_lives(cables, checks_of(cables, suspect=suspect), clock, **how)


def spans(on, *args, **how):
    """[(entry, low, high)] in days, or in events."""
    found = lives_of(on, *args, **how).lives
    unit = 1 if Clock.EVENTS in args else 365.25
    return [
        tuple(round(float(end) * unit, 6) for end in row)
        for row in zip(found.entry, found.low, found.high, strict=True)
    ]


def cable_read(today, fitted_days_ago, *readings, **values):
    """A fitted cable with readings (days after its fitting, loss in dB); `values` of its fitting."""
    cable = make_segment()
    fit(cable, values.pop("mat", None) or make_mat(), fitted_on=today - timedelta(fitted_days_ago), **values)
    for days, loss_db in readings:
        make_reading(cable, loss_db, today - timedelta(fitted_days_ago - days))
    return cable


def test_a_cable_went_over_between_its_last_pass_and_its_first_fail(today):
    cable_read(today, 900, (200, IN), (500, IN), (800, OVER))
    assert spans(today) == [(0, 500, 800)]


def test_what_is_removed_by_a_rule_counts_until_its_last_pass(today):
    cable_read(today, 1200, (200, IN), (700, IN), removed_on=today - timedelta(100), removal_reason="age")
    assert spans(today) == [(0, 700, INF)]


def test_over_at_the_first_look_went_over_any_time_before(today):
    cable_read(today, 900, (600, OVER))
    assert spans(today) == [(0, 0, 600)]


def test_an_undecided_reading_widens_the_span_and_no_signal_is_over(today):
    cable_read(today, 900, (200, IN), (500, 3.0), (800, None))
    assert spans(today) == [(0, 200, 800)]


def test_a_go_no_go_tester_tells_lives_too(today):
    cable = cable_read(today, 900)
    tester = make_tester(3.0)
    for days, word in ((300, "within"), (600, "over")):
        make_reading(cable, measured_on=today - timedelta(900 - days), go_no_go=word, instrument=tester)
    assert spans(today) == [(0, 300, 600)]


def test_the_limit_is_that_of_the_design(today, keeper):
    cable_read(today, 900, (300, IN), (600, OVER))
    design = Fitting.objects.get().mat.design
    set_policy_value("loss_limit_db", 6, design=design, by=keeper, on=today, reason="tried")
    assert spans(today) == [(0, 600, INF)]


def test_readings_of_suspects_stand_beside(today):
    cable = cable_read(today, 900, (300, IN))
    make_reading(cable, OVER, today - timedelta(500), reason="suspect")
    assert spans(today) == [(0, 300, INF)]
    assert spans(today, suspect=True) == [(0, 300, 400)]


def test_void_and_doubtful_readings_tell_nothing(today):
    cable = cable_read(today, 900, (300, IN))
    make_reading(cable, OVER, today - timedelta(500), voided_on=today - timedelta(400), void_reason="slip")
    make_reading(cable, OVER, today - timedelta(300), doubt_reason="loose lead")
    assert spans(today) == [(0, 300, INF)]


def test_damage_ends_what_a_cable_tells_of_wear_and_is_a_cause_of_its_own(today):
    mat = make_mat()
    cable_read(today, 900, (300, IN), (700, OVER), mat=mat)
    make_fault(mat, "connector", 1, today - timedelta(400), ended_on=today - timedelta(390), end_reason="repair")
    cable_read(today, 800, (600, OVER))
    cable_read(today, 700, (600, IN))
    assert spans(today) == [(0, 300, INF), (0, 0, 600), (0, 600, INF)]
    cables = read_cables(today)
    ends = cable_ends(cables, checks_of(cables), Clock.YEARS)
    assert ends.cause.tolist() == [DAMAGED, FOUND_OVER, 0]
    assert (ends.ended * 365.25).round().tolist() == [500, 600, 700]


def test_damage_that_is_changed_on_the_day_of_its_report_is_of_the_cable_that_comes_out(today):
    mat, day = make_mat(), today - timedelta(400)
    cable_read(today, 900, (300, IN), mat=mat, removed_on=day)
    make_fault(mat, "cable", 1, day, ended_on=day, end_reason="change")
    cable_read(today, 400, (200, IN), mat=mat)
    assert spans(today) == [(0, 300, INF), (0, 200, INF)]
    cables = read_cables(today)
    ends = cable_ends(cables, checks_of(cables), Clock.YEARS)
    assert ends.cause.tolist() == [DAMAGED, 0]
    assert (ends.ended * 365.25).round().tolist() == [500, 400]


def test_a_fault_of_which_nothing_was_found_is_no_damage(today):
    mat = make_mat()
    cable_read(today, 900, (300, IN), (700, IN), mat=mat)
    values = {"ended_on": today - timedelta(390), "end_reason": "looked at, nothing found"}
    make_fault(mat, "cable", 1, today - timedelta(400), **values)
    assert spans(today) == [(0, 700, INF)]


def test_cables_of_unknown_age_are_left_out_and_stand_beside_as_at_least_so_old(today):
    cable_read(today, 900, (300, IN), (600, OVER), fitted_basis="not later than")
    cable_read(today, 800, (500, IN), fitted_basis="about")
    assert spans(today) == [(0, 500, INF)]
    assert lives_of(today).clock_not_known == 1
    # when it went over nobody knows: only that it was within until then
    assert spans(today, older=True) == [(0, 300, INF), (0, 500, INF)]


def test_a_cable_that_was_over_when_fitted_has_no_life(today):
    cable_read(today, 900, (0, OVER))
    found = lives_of(today)
    assert (len(found.lives), found.over_when_new) == (0, 1)


def test_events_are_counted_from_new_with_those_before_the_records(today):
    mat = make_mat()
    for days_ago in (950, 800, 700, 300):
        make_usage_event(mat, make_event(today - timedelta(days_ago)))
    new = cable_read(today, 900, (150, IN), (250, OVER), mat=mat)
    used = make_segment(events_before=40)
    fit(used, mat, 2, today - timedelta(750))
    make_reading(used, IN, today - timedelta(200))
    assert spans(today, Clock.EVENTS) == [(0, 1, 2), (0, 42, INF)]
    assert new.pk < used.pk


def test_a_mat_without_events_on_record_says_nothing_by_events(today):
    make_usage_event(make_mat(), make_event(today - timedelta(2000)))
    cable_read(today, 900, (300, IN), (600, OVER))
    found = lives_of(today, Clock.EVENTS)
    assert (len(found.lives), found.clock_not_known) == (0, 1)


def test_a_used_cable_that_was_let_in_because_it_read_within_counts_from_then_on(today):
    mat = make_mat()
    make_usage_event(mat, make_event(today - timedelta(950)))
    make_usage_event(mat, make_event(today - timedelta(500)))
    used = make_segment(events_before=40)
    make_reading(used, IN, today - timedelta(760))
    fit(used, mat, 1, today - timedelta(750))
    make_reading(used, OVER, today - timedelta(200))
    assert spans(today, Clock.EVENTS) == [(40, 40, 41)]
    assert lives_of(today, Clock.EVENTS).entered_late == 1


def test_who_was_in_use_before_the_records_counts_from_there_on_if_bad_ones_were_taken_out(today):
    """The records begin with the first reading, event or removal: here 1000 days ago."""
    make_usage_event(make_mat(), make_event(today - timedelta(1000)))
    cable_read(today, 1400, (600, IN))
    cable_read(today, 1300, (900, OVER))
    cable_read(today, 800, (300, IN))
    assert spans(today) == [(0, 600, INF), (0, 0, 900), (0, 300, INF)]
    assert spans(today, culled=True) == [(400, 600, INF), (300, 300, 900), (0, 300, INF)]
    assert lives_of(today).late == 2


PUBLISHED = [(cracked_parts(), 1.48537, 71.6904), (wheels(), 2.17578, 46.7772)]


@pytest.mark.parametrize(("lives", "shape", "scale"), PUBLISHED, ids=["parts", "wheels"])
def test_published_inspections_as_if_they_were_a_pool(today, lives, shape, scale):
    """Parts: Nelson 1982, in months; wheels: the same book, in hundred hours, here as so many months. Readings lie on
    whole days, which moves an age by at most half a day: scales to 1 in 1000, shapes to 2 in 1000."""
    make_pool_of_lives(lives, today, years_a_unit=1 / 12)
    found = pool_life(today).whole.life
    assert (found.lives, found.failures) == (len(lives), lives.failures)
    assert found.weibull.shape == pytest.approx(shape, rel=2e-3)
    assert 12 * found.weibull.scale == pytest.approx(scale, rel=1e-3)


def test_groups_are_told_apart_by_length_design_and_depot(today):
    short, long = drawn_pool(1, mats=12, scale=6.0), drawn_pool(2, mats=12, scale=2.5)
    make_pool_of_lives(short, today, length_m=0.6)
    make_pool_of_lives(long, today, length_m=3.5)
    for grouping, names in (("length", [0, 3]), ("design", None), ("depot", [""])):
        page = pool_life(today, Clock.YEARS, grouping)
        assert sum(group.life.lives for group in page.groups) == page.whole.life.lives
        assert sum(group.life.failures for group in page.groups) == short.failures + long.failures
        assert names is None or [group.name for group in page.groups] == names
    first, last = pool_life(today).groups
    assert first.life.ages_at[0.05].age > last.life.ages_at[0.05].high
    assert len(pool_life(today, Clock.YEARS, "design").groups) == 2


def test_few_that_went_over_give_bounds_alone(today):
    make_pool_of_lives(drawn_pool(2, mats=12, scale=9.0), today)
    life = pool_life(today).whole.life
    assert 0 < life.failures < 10
    assert (life.is_settled, life.weibull) == (False, None)
    assert 0 < life.bound.survival(1) < 1


def test_what_is_kept_of_an_answer_changes_with_what_is_on_record(today):
    make_pool_of_lives(drawn_pool(3, mats=12), today)
    before = pool_life(today).whole.life
    cable_read(today, 900, (300, IN), (600, OVER))
    after = pool_life(today).whole.life
    assert (after.lives, after.failures) == (before.lives + 1, before.failures + 1)
