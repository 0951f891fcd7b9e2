"""The card for those without a bench: what it gives, how far it goes, and by what it tells years from events."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_design, make_event, set_policy_value
from hypothesis import given
from hypothesis import strategies as st
from life_data import drawn_pool
from worn_pools import FITTED_ON, MONTHS, bench_day, make_pool, read

from fleet.models import UsageEvent
from inspections.length_limits.services import pool_limits
from inspections.limit_card import services
from inspections.limit_card.clock_services import Use
from inspections.limit_card.services import FEWEST_WATCHED, limit_card, rounded, upper_lengths, watched_by_enough
from inspections.models import Measurement
from inspections.numeric.words import Clock
from inspections.templatetags.card_text import card_limit, card_use

pytestmark = [pytest.mark.django_db, pytest.mark.alike]

# after the last bench day of `worn_pools`
ON = date(2026, 10, 1)
# events a month of the mats, so that each goes at a rate of its own
OFTEN = (1, 2, 4, 6, 3, 5)


def make_pool_with_events(*, by_events, mats=12, seed=5):
    """Mats that go 12 to 72 times a year, whose cables wear with each event (1), with the time alone (0), or both."""
    made, rng = make_pool(mats, months=()), np.random.default_rng(seed)
    months = range(25)
    events = [make_event(FITTED_ON + timedelta(int(30.4 * month))) for month in months]
    often = dict(zip(made, OFTEN * mats, strict=False))
    UsageEvent.objects.bulk_create(
        UsageEvent(mat=mat, event=event, state="went", counts_for=often[mat]) for mat in made for event in events
    )
    for mat in made:
        for fitting in mat.fittings.select_related("segment"):
            length_m, own = fitting.segment.length_m, 1 + 0.1 * rng.standard_normal()
            worn = [(by_events * often[mat] / 4 + 1 - by_events) * month / 12 for month in MONTHS]
            noise = 0.03 * rng.standard_normal(len(worn))
            read(fitting.segment, np.round(0.3 + 0.5 * length_m + 0.8 * own * length_m * np.array(worn) + noise, 3))
    return made


def test_it_gives_the_limits_of_the_pool_to_whole_months_and_no_further_than_was_watched():
    make_pool(mats=12, rate_db=0.9, seed=11)
    card, limits = limit_card(ON), pool_limits(ON, ON)
    ages = {row.length_m: row.age for row in limits.rows}
    assert [row.length_m for row in card.rows] == sorted(ages)
    # ten cables were watched until the last bench day
    assert card.ends == pytest.approx((bench_day(MONTHS[-1]) - FITTED_ON).days / 365.25)
    for row in card.rows:
        age = min(ages[row.length_m], card.ends)
        assert 12 * row.limit.value == pytest.approx(np.floor(12 * age + 1e-6))
        assert row.limit.is_least == (ages[row.length_m] > card.ends)
    assert {row.limit.is_least for row in card.rows} == {True, False}


def test_its_evidence_is_what_was_counted():
    mats = make_pool(mats=12, rate_db=0.9, seed=11)
    card = limit_card(ON)
    assert (card.model.segments, card.model.readings) == (48, 48 * len(MONTHS))
    assert (card.first_on, card.last_on) == (bench_day(MONTHS[0]), bench_day(MONTHS[-1]))
    assert sum(row.read for row in card.rows) == len(card.lives) == 48
    longest = card.rows[-1]
    readings = {
        fitting.segment_id: [(reading.measured_on, reading.loss_db) for reading in fitting.segment.measurements.all()]
        for mat in mats
        for fitting in mat.fittings.filter(segment__length_m=longest.length_m)
    }
    limit_on = FITTED_ON + timedelta(365.25 * longest.limit.value)
    last = [_last_told(one) for one in readings.values()]
    assert longest.read == len(last) == 12
    assert longest.beyond == sum(day > limit_on for day in last)
    assert longest.beyond > 0


def _last_told(readings):
    """The first day over, else the last one."""
    over = [day for day, loss_db in readings if loss_db > 3]
    return min(over) if over else max(day for day, _ in readings)


def test_weekly_fortnightly_and_monthly_use_have_limits_of_their_own_where_wear_follows_events():
    make_pool_with_events(by_events=1)
    card = limit_card(ON)
    assert (card.found.clock, card.found.is_told) == (Clock.EVENTS, True)
    assert min(card.found.difference, card.found.over_both) > 6
    assert card.uses == ("weekly", "fortnightly", "monthly")
    own = card.rows[-1]
    assert not own.limit.is_least
    rates = (52, 26, 12)
    for limit, rate in zip(own.by_use, rates, strict=True):
        years = own.limit.value / rate
        # rounded down to events and then to months; where watching ended no further
        assert limit.value <= min((own.limit.value + 1) / rate, card.ends)
        assert limit.is_least or limit.value > years - 1 / 12
    assert own.by_use[0].value < own.by_use[1].value
    assert own.by_use[2].is_least


def test_where_wear_follows_years_one_row_holds_for_each_use_that_was_seen():
    make_pool_with_events(by_events=0)
    card = limit_card(ON)
    assert (card.found.clock, card.found.is_told, card.uses) == (Clock.YEARS, True, ())
    assert all(row.by_use == () for row in card.rows)
    said = " ".join(card_use(card))
    assert "Wear follows years, not events: twice the log likelihood ratio is" in said
    assert "The limits are the same for weekly, fortnightly and monthly use." in said


def test_wear_that_follows_both_is_given_for_use_like_theirs_only():
    """Events alone fit far better than years alone; for mats that go monthly they would promise too much."""
    make_pool_with_events(by_events=0.6)
    card = limit_card(ON)
    assert (card.found.clock, card.found.is_told, card.uses) == (Clock.YEARS, False, ())
    assert card.found.difference > 6
    assert card.found.over_both < -6
    said = " ".join(card_use(card))
    assert "Wear follows years and events together, so there is one row for all use: twice the log" in said
    assert "against both half and half; above 6 is called enough." in said
    assert "The limits are for use like that, or less." in said


def test_records_that_do_not_tell_years_from_events_give_one_row_for_use_like_theirs(keeper):
    make_pool(rate_db=0.9)
    card = limit_card(ON)
    assert (card.found.clock, card.found.is_told, card.uses) == (Clock.YEARS, False, ())
    said = " ".join(card_use(card))
    assert "The records do not tell wear by years from wear by events" in said
    assert "How often these mats went is not on record" in said


def test_no_card_is_made_of_too_little():
    assert (limit_card(ON).why_none, limit_card(ON).rows) == ("few", ())
    make_pool(mats=2, rate_db=0.9)
    # eight cables
    assert (limit_card(ON).why_none, limit_card(ON).rows) == ("few", ())


def test_risk_and_loss_limit_are_those_of_the_pool(keeper):
    make_pool(mats=12, rate_db=0.9, seed=11)
    before = limit_card(ON).rows[-1]
    set_policy_value("loss_limit_db", 2.5, by=keeper, on=ON, reason="tried")
    set_policy_value("accepted_risk", 0.03, by=keeper, on=ON, reason="tried")
    card = limit_card(ON)
    assert (card.limit_db, card.risk) == (2.5, 0.03)
    assert card.rows[-1].limit.value < before.limit.value


def test_the_number_of_queries_does_not_grow_with_the_pool():
    counts = []
    for seed in (1, 2):
        make_pool(mats=3 * seed, seed=seed)
        make_design(f"design {seed}")
        limit_card(ON)
        with CaptureQueriesContext(connection) as queries:
            limit_card(ON)
        counts.append(len(queries))
    assert counts[0] == counts[1]


lengths = st.lists(st.floats(0.05, 12), min_size=FEWEST_WATCHED, max_size=60)


@given(lengths)
def test_each_cable_stands_in_one_row_that_is_not_shorter(given_m):
    length_m = np.array(given_m)
    upper = upper_lengths(length_m)
    assert 1 <= len(upper) <= services.MOST_ROWS
    assert (np.diff(upper) > 0).all()
    row = np.searchsorted(upper, length_m - services.ROUNDING)
    inside = row < len(upper)
    assert (upper[row[inside]] >= length_m[inside] - 2e-6).all()
    # no row stands empty, and ten cables are of the last one, to the hundredth above, or longer
    assert set(row[inside].tolist()) == set(range(len(upper)))
    assert np.count_nonzero(length_m > upper[-1] - 0.0101) >= FEWEST_WATCHED > np.count_nonzero(~inside)


def test_of_fewer_than_ten_cables_there_is_no_row():
    assert len(upper_lengths(np.linspace(1, 2, 9))) == 0


@given(st.floats(0, 60), st.floats(0.01, 60), st.booleans())
def test_a_limit_is_rounded_down_and_ends_where_watching_ended(age, watched, by_years):
    limit, step = rounded(age, watched, by_years), 1 / 12 if by_years else 1
    assert limit.value <= min(age, watched) + 1e-6
    assert limit.value > min(age, watched) - step - 1e-6
    assert limit.is_least == (age > watched)


def test_what_cannot_be_told_is_said():
    assert card_limit(rounded(np.nan, 3, by_years=True), Clock.YEARS) == "not known"
    assert card_limit(rounded(np.inf, 2.8, by_years=True), Clock.YEARS) == "2 years 9 months*"
    assert card_limit(rounded(0.05, 3, by_years=True), Clock.YEARS) == "less than a month"
    assert card_limit(rounded(0.5, 80, by_years=False), Clock.EVENTS) == "not one event"


def test_ten_cables_were_watched_so_far():
    lives = drawn_pool(3, mats=12)
    never_over = lives.take(~lives.is_over)
    age = watched_by_enough(never_over)
    assert np.count_nonzero(never_over.low >= age) >= FEWEST_WATCHED > np.count_nonzero(never_over.low > age)
    # who was over before is known to be over later, as far as anybody looked
    assert lives.failures >= FEWEST_WATCHED
    assert watched_by_enough(lives) == lives.watched_until
    assert watched_by_enough(lives.take(np.arange(9))) == 0


def test_a_limit_is_given_on_the_safe_side_of_the_use_that_was_seen():
    """Wear that follows both clocks is in a limit of events as at the use of the pool: who goes less often ages more
    at each event; in one of years who goes more often is worn more in each."""
    use = Use(10, 20, 40)
    assert [use.holds(Clock.EVENTS, rate) for rate in (5, 20, 60)] == [False, True, True]
    assert [use.holds(Clock.YEARS, rate) for rate in (5, 20, 60)] == [True, True, False]
    assert not Use(np.nan, np.nan, np.nan).holds(Clock.YEARS, 20)


@pytest.mark.django_db
def test_a_length_is_given_no_more_than_ten_cables_as_long_were_watched():
    mats = make_pool(mats=12, rate_db=0.1, seed=11)
    longest = max(fitting.segment.length_m for fitting in mats[0].fittings.select_related("segment"))
    late = bench_day(MONTHS[-2])
    Measurement.objects.filter(segment__length_m=longest, measured_on__gt=late).delete()
    *others, last = limit_card(ON).rows
    assert last.length_m == longest
    assert 12 * last.limit.value == np.floor(12 * (late - FITTED_ON).days / 365.25)
    assert all(row.limit.value > last.limit.value for row in others)
