"""The chance of being over on a day ahead is what the assessment of that day will say, if nothing more is known."""

from datetime import date, timedelta

import numpy as np
import pytest
from factories import make_event, make_mat, make_usage_event
from worn_pools import FITTED_ON, make_pool

from inspections.assessment.chances_ahead import chances_over_by, events_until
from inspections.assessment.services import assess_pool
from inspections.assessment.wear_state import read_wear_state
from inspections.models import Assessment, PolicyValue

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
THEN = date(2027, 9, 30)


def assessed():
    rows = Assessment.objects.exclude(chance_over=None)
    return {segment: pytest.approx(chance, abs=1e-9) for segment, chance in rows.values_list("segment", "chance_over")}


@pytest.mark.parametrize("day", [ON, THEN])
def test_it_is_the_chance_of_the_assessment_of_that_day(day):
    make_pool()
    assess_pool(ON)
    ahead = chances_over_by(day, ON)
    assert day == ON or max(ahead.values()) > 0.5
    assess_pool(day)
    assert ahead == assessed()


def test_without_a_trend_there_is_none():
    assert chances_over_by(THEN, ON) == {}
    make_mat(fitted=True)
    assess_pool(ON)
    assert chances_over_by(THEN, ON) == {}


def test_by_events_it_counts_those_that_are_planned():
    """Of mats that stood still for a year before: nothing but what is planned goes on the clock."""
    PolicyValue.objects.create(setting="wear_by_events", value=1)
    mats = make_pool()
    for week in range(52):
        for mat in mats:
            make_usage_event(mat, make_event(FITTED_ON + timedelta(7 * week)))
    planned = [make_event(ON + timedelta(days)) for days in (7, 200)]
    for event in planned:
        make_usage_event(mats[0], event, "planned")
    assess_pool(ON)
    ahead = chances_over_by(THEN, ON)
    mats[0].usage_events.filter(state="planned").update(state="went")
    assess_pool(THEN)
    assert ahead == assessed()


def test_behind_what_is_planned_a_mat_goes_as_often_as_it_did_in_the_last_year():
    """Worked by hand: 73 in the last year, one planned in 146 days; of the 219 days behind it, 73 · 219/365."""
    mat = make_mat(fitted=True, fitted_on=FITTED_ON)
    for days in range(73):
        make_usage_event(mat, make_event(ON - timedelta(days)))
    make_usage_event(mat, make_event(ON + timedelta(146)), "planned")
    until = events_until(read_wear_state(ON), np.datetime64(THEN, "D"))
    assert until == pytest.approx([1 + 73 * 219 / 365] * 4)
