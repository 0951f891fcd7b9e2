"""Wear counted by events: a date by trend is the start of the event at which the count is reached."""

from datetime import date, timedelta

import pytest
from factories import fit, make_event, make_mat, make_reading, make_segment, make_usage_event
from worn_pools import FITTED_ON, make_pool, row_of

from inspections.assessment import pool_fits, services
from inspections.assessment.trend_records import fit_records
from inspections.assessment.wear_state import read_wear_state
from inspections.models import PolicyValue
from inspections.numeric.words import Clock

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


class TestEventClock:
    """Under the event clock a date is the start of the event at which the count is reached."""

    @pytest.fixture(autouse=True)
    def by_events(self, db):
        PolicyValue.objects.create(setting="wear_by_events", value=1)

    def make_worn_pool(self):
        mats = make_pool()
        for week in range(100):
            event = make_event(FITTED_ON + timedelta(7 * week))
            for mat in mats:
                make_usage_event(mat, event)
        return mats

    def test_dates_fall_on_events_and_then_follow_the_mats_rate(self):
        mats = self.make_worn_pool()
        planned = [make_event(ON + timedelta(7 * week)) for week in range(1, 3)]
        for event in planned:
            make_usage_event(mats[0], event, "planned")
        services.assess_pool(ON)
        model = pool_fits.stored_fit().model
        assert model.clock == "events"
        row = row_of(mats[0].fittings.get(position=4).segment)
        assert row.trend_due_on > planned[-1].starts_on
        # dB per event: 0.3 dB per metre and year, 2.1 m, about 52 events a year
        assert row.trend_rate_db == pytest.approx(0.3 * 2.1 / 52, rel=0.3)

    def test_a_mat_that_does_not_go_out_stands_still(self):
        mats = self.make_worn_pool()
        idle = make_mat(fitted=True, fitted_on=FITTED_ON)
        services.assess_pool(ON)
        row = row_of(idle.fittings.get(position=4).segment)
        assert (row.trend_due_on, row.trend_no_date_reason) == (None, "stands still")
        assert row_of(mats[0].fittings.get(position=4).segment).trend_no_date_reason == ""

    def test_events_before_the_records_count_towards_the_chance(self):
        self.make_worn_pool()
        mat, cables = make_mat(), [make_segment(2.1), make_segment(2.1, events_before=400)]
        for position, segment in enumerate(cables, start=1):
            fit(segment, mat, position, ON - timedelta(30))
        make_usage_event(mat, make_event(ON - timedelta(7)))
        services.assess_pool(ON)
        fresh, worn = (row_of(segment) for segment in cables)
        assert fresh.chance_over < 0.001 and worn.chance_over > 0.9

    def test_a_day_more_than_forty_years_after_fitting_is_no_date_the_expected_one_neither(self):
        self.make_worn_pool()
        slow = make_mat(fitted=True, fitted_on=FITTED_ON)
        make_usage_event(slow, make_event(ON - timedelta(7)))
        services.assess_pool(ON)
        row = row_of(slow.fittings.get(position=4).segment)
        assert (row.trend_due_on, row.trend_no_date_reason) == (None, "later than 40 years")
        assert row.trend_expected_on is None

    @pytest.mark.parametrize("planned", [True, False])
    def test_a_line_over_the_limit_at_its_fitting_is_due_from_then_on_though_the_mat_stands_still(self, planned):
        self.make_worn_pool()
        mat, segment = make_mat(), make_segment(2.1)
        fit(segment, mat, 1, ON - timedelta(5))
        make_reading(segment, 6.0, ON - timedelta(4))
        if planned:
            make_usage_event(mat, make_event(ON + timedelta(30)), "planned")
        services.assess_pool(ON)
        row = row_of(segment)
        assert row.chance_over > 0.9
        assert (row.trend_due_on, row.trend_no_date_reason) == (ON - timedelta(5), "")
        assert row.status == "change now"

    def test_an_event_of_the_day_of_a_reading_is_in_its_count(self):
        mat, segment = make_mat(), make_segment(1.6, events_before=5)
        fit(segment, mat, 1, FITTED_ON)
        for day in (date(2026, 5, 2), date(2026, 5, 9)):
            make_usage_event(mat, make_event(day))
            make_reading(segment, 1.0, day)
        make_reading(segment, 1.0, date(2026, 5, 8))
        records = fit_records(read_wear_state(ON), Clock.EVENTS)
        assert records.readings.x.tolist() == [6, 6, 7]
