"""A weekly event: repeated until a day, each week changed or called off alone, the rest following when asked."""

from datetime import date, timedelta

import pytest
from dateutil.rrule import WEEKLY, rrule
from django.core.exceptions import ValidationError
from factories import make_event, make_mat, make_usage_event
from hypothesis import given
from hypothesis import strategies as st

from fleet.models import Event, EventSeries, MatDay, UsageEvent
from fleet.models.series import starts_of_repeats
from fleet.services.events import add_event, correct_event
from fleet.services.series import end_series, repeat_event
from fleet.services.series_days import DatesTaken
from fleet.services.series_following import WeekValues, change_following
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, call_off, log_event

SATURDAY = date(2026, 10, 3)


def by_rrule(first, until, every_weeks):
    """python-dateutil's rule of RFC 5545: FREQ=WEEKLY;INTERVAL=n;UNTIL=day."""
    return [day.date() for day in rrule(WEEKLY, interval=every_weeks, dtstart=first, until=until)]


@pytest.mark.parametrize(
    ("first", "until", "every_weeks", "last", "number"),
    [
        # counted on a calendar by hand, and by dateutil below
        (date(2026, 10, 3), date(2026, 10, 31), 1, date(2026, 10, 31), 5),
        (date(2026, 12, 12), date(2027, 1, 20), 2, date(2027, 1, 9), 3),
        (date(2028, 2, 15), date(2028, 3, 7), 1, date(2028, 3, 7), 4),
        (date(2028, 2, 29), date(2028, 3, 14), 2, date(2028, 3, 14), 2),
        (date(2027, 2, 23), date(2027, 3, 2), 1, date(2027, 3, 2), 2),
        (date(2026, 10, 3), date(2026, 10, 9), 1, date(2026, 10, 3), 1),
    ],
)
def test_repeats_fall_on_the_days_of_the_calendar(first, until, every_weeks, last, number):
    starts = starts_of_repeats(first, until, every_weeks)
    assert (starts[0], starts[-1], len(starts)) == (first, last, number)
    assert starts == by_rrule(first, until, every_weeks)


@given(first=st.dates(date(1990, 1, 1), date(2100, 12, 31)), days=st.integers(0, 1200), every_weeks=st.integers(1, 60))
def test_repeats_are_those_of_the_calendar_rule(first, days, every_weeks):
    until = first + timedelta(days=days)
    assert starts_of_repeats(first, until, every_weeks) == by_rrule(first, until, every_weeks)


@pytest.fixture
def mats(db):
    return [make_mat(f"M-00{number}", fitted=True) for number in (1, 2)]


def planned_run(mats, keeper, on, starts_on=SATURDAY, **values):
    event = add_event(by=keeper, starts_on=starts_on, **{"name": "Canal run", "place": "Lock 9"} | values)
    log_event(event, {mat: UsageValues("planned") for mat in mats}, by=keeper, on=on)
    return event


@pytest.fixture
def run(mats, keeper, on):
    return planned_run(mats, keeper, on)


@pytest.fixture
def series(run, keeper, on):
    """Saturdays from 3 to 31 October: five."""
    return repeat_event(run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)


def week(series, number):
    return series.events.order_by("starts_on")[number]


def going(event):
    rows = event.usage_events.filter(state="planned").order_by("mat__number")
    return list(rows.values_list("mat__number", flat=True))


def states(series):
    rows = UsageEvent.objects.filter(event__series=series).order_by("event__starts_on", "mat__number")
    return list(rows.values_list("event__starts_on__day", "mat__number", "state"))


def recounted():
    return {
        (row.mat_id, row.event.starts_on + timedelta(days=number))
        for row in UsageEvent.objects.select_related("event").exclude(state="called off")
        for number in range((row.event.ends_on - row.event.starts_on).days + 1)
    }


def days_kept():
    return set(MatDay.objects.values_list("mat", "day"))


def values(mats, **changed):
    return WeekValues(
        **{"name": "Canal run", "place": "Lock 9", "weekday": 5, "length_days": 1, "mats": mats} | changed
    )


def test_a_weekly_event_is_planned_for_each_week_with_codes_of_its_own(series, mats):
    assert list(series.events.order_by("starts_on").values_list("code", "starts_on__day")) == [
        ("E-2026-01", 3), ("E-2026-02", 10), ("E-2026-03", 17), ("E-2026-04", 24), ("E-2026-05", 31),
    ]  # fmt: skip
    assert going(week(series, 4)) == ["M-001", "M-002"]
    assert days_kept() == recounted()
    assert MatDay.objects.filter(planned=True).count() == 10


def test_over_the_turn_of_the_year_each_year_counts_its_own_codes(mats, keeper, on):
    make_event(date(2027, 6, 1), code="E-2027-07")
    event = planned_run(mats, keeper, on, starts_on=date(2026, 12, 19))
    series = repeat_event(event, every_weeks=2, until=date(2027, 1, 31), by=keeper, on=on)
    codes = series.events.order_by("starts_on").values_list("code", flat=True)
    assert list(codes) == ["E-2026-01", "E-2027-08", "E-2027-09", "E-2027-10"]


def test_events_of_two_days_keep_both_days(mats, keeper, on):
    event = planned_run(mats, keeper, on, ends_on=SATURDAY + timedelta(days=1))
    series = repeat_event(event, every_weeks=1, until=date(2026, 10, 17), by=keeper, on=on)
    assert [each.ends_on.day for each in series.events.order_by("starts_on")] == [4, 11, 18]
    assert days_kept() == recounted()


def test_a_mat_planned_elsewhere_refuses_the_whole_series_and_names_mat_day_and_event(run, mats, keeper, on):
    planned_run(mats[:1], keeper, on, starts_on=date(2026, 10, 17), code="E-77", name="Fen Half")
    with pytest.raises(DatesTaken) as refused:
        repeat_event(run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)
    assert refused.value.messages[0] == "Already taken: M-001 on 17 Oct 2026: E-77 Fen Half."
    assert (Event.objects.count(), EventSeries.objects.count()) == (2, 0)


def test_the_keeper_may_leave_the_taken_weeks_out(run, mats, keeper, on):
    planned_run(mats[:1], keeper, on, starts_on=date(2026, 10, 17), code="E-77", name="Fen Half")
    with pytest.raises(DatesTaken) as refused:
        repeat_event(run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)
    assert refused.value.weeks == [date(2026, 10, 17)]
    series = repeat_event(
        run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on, confirmed=refused.value.fingerprint
    )
    assert list(series.events.order_by("starts_on").values_list("starts_on__day", flat=True)) == [3, 10, 24, 31]
    assert days_kept() == recounted()


def test_or_plan_them_without_the_mat(run, mats, keeper, on):
    for week in (2, 3):
        day = SATURDAY + timedelta(weeks=week)
        planned_run(mats[:1], keeper, on, starts_on=day, code=f"E-7{week}", name="Fen Half")
    rule = {"every_weeks": 1, "until": date(2026, 10, 31), "by": keeper, "on": on}
    with pytest.raises(DatesTaken) as refused:
        repeat_event(run, **rule)
    assert refused.value.messages[0] == "Already taken: M-001 on 17 Oct and 24 Oct 2026: Fen Half (2 events)."
    fingerprint, words = refused.value.ways["without mats"]
    assert words == "Plan these weeks without M-001: 17 Oct and 24 Oct 2026"
    series = repeat_event(run, **rule, confirmed=fingerprint)
    both = ["M-001", "M-002"]
    assert [going(each) for each in series.events.order_by("starts_on")] == [both, both, ["M-002"], ["M-002"], both]
    assert days_kept() == recounted()


def test_the_rest_of_a_series_may_be_changed_without_a_mat_where_it_is_taken(series, mats, keeper, on):
    third = make_mat("M-003")
    log_event(make_event(date(2026, 10, 24), code="E-77"), {third: UsageValues("planned")}, by=keeper, on=on)
    given = {"by": keeper, "on": on}
    with pytest.raises(DatesTaken) as refused:
        change_following(week(series, 2), values([*mats, third]), **given)
    confirmed = refused.value.ways["without mats"][0]
    rest = change_following(week(series, 2), values([*mats, third]), **given, confirmed=confirmed)
    assert rest.skipped == ()
    everyone = ["M-001", "M-002", "M-003"]
    assert [going(week(series, number)) for number in (2, 3, 4)] == [everyone, ["M-001", "M-002"], everyone]


def test_the_same_event_added_by_hand_before_is_a_week_that_is_taken(run, keeper, on):
    planned_run([], keeper, on, starts_on=date(2026, 10, 17), code="E-77")
    with pytest.raises(DatesTaken, match="E-77 Canal run is on 17 Oct 2026 already"):
        repeat_event(run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)


def test_a_word_given_for_other_days_leaves_nothing_out(run, mats, keeper, on):
    planned_run(mats[:1], keeper, on, starts_on=date(2026, 10, 17), code="E-77", name="Fen Half")
    with pytest.raises(DatesTaken):
        repeat_event(run, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on, confirmed="0123456789abcdef")


@pytest.mark.parametrize(
    ("every_weeks", "until", "says"),
    [
        (1, date(2026, 10, 9), "The next one would be on 10 Oct 2026"),
        (1, date(2026, 9, 1), "The last day lies before the first."),
        (1, date(2036, 10, 3), "These are 522 events. Plan at most 160 at once."),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused(run, keeper, on, every_weeks, until, says):
    with pytest.raises(ValidationError, match=says):
        repeat_event(run, every_weeks=every_weeks, until=until, by=keeper, on=on)
    assert EventSeries.objects.count() == 0


def test_an_event_longer_than_its_weeks_is_refused(mats, keeper, on):
    event = planned_run(mats, keeper, on, ends_on=SATURDAY + timedelta(days=7))
    with pytest.raises(ValidationError, match="still be running when the next one begins"):
        repeat_event(event, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)
    assert repeat_event(event, every_weeks=2, until=date(2026, 10, 31), by=keeper, on=on).events.count() == 3


def test_a_series_is_not_repeated_again(series, run, keeper, on):
    with pytest.raises(ValidationError, match="one of a series already"):
        repeat_event(run, every_weeks=1, until=date(2026, 12, 31), by=keeper, on=on)


def test_one_week_is_called_off_alone(series, keeper, on):
    assert answer_event(week(series, 1), "called off", by=keeper, on=on) == 2
    assert [state for _, _, state in states(series)].count("called off") == 2
    assert days_kept() == recounted()


def test_the_rest_follows_and_weeks_changed_alone_are_passed_by(series, mats, keeper, on):
    correct_event(week(series, 2), by=keeper, on=on, name="Lantern run")
    call_off(week(series, 3).usage_events.get(mat=mats[0]), by=keeper, on=on)
    rest = change_following(week(series, 1), values(mats[1:], name="Canal evening"), by=keeper, on=on)
    assert ([each.code for each in rest.changed], [each.code for each in rest.skipped]) == (
        ["E-2026-02", "E-2026-05"],
        ["E-2026-03", "E-2026-04"],
    )
    names = series.events.order_by("starts_on").values_list("name", flat=True)
    assert list(names) == ["Canal run", "Canal evening", "Lantern run", "Canal run", "Canal evening"]
    assert [going(each) for each in series.events.order_by("starts_on")] == [
        ["M-001", "M-002"], ["M-002"], ["M-001", "M-002"], ["M-002"], ["M-002"],
    ]  # fmt: skip
    assert days_kept() == recounted()


def test_a_week_changed_alone_can_lead_the_rest(series, mats, keeper, on):
    event = week(series, 2)
    correct_event(event, by=keeper, on=on, place="Lock 4")
    change_following(event, values(mats, place="Lock 4"), by=keeper, on=on)
    places = series.events.order_by("starts_on").values_list("place", flat=True)
    assert list(places) == ["Lock 9", "Lock 9", "Lock 4", "Lock 4", "Lock 4"]
    assert not series.events.filter(changed_alone=True).exists()


def test_the_rest_moves_to_another_weekday_and_lasts_longer(series, mats, keeper, on):
    change_following(week(series, 1), values(mats, weekday=6, length_days=2), by=keeper, on=on)
    spans = series.events.order_by("starts_on").values_list("starts_on", "ends_on")
    assert [(start.day, end.day) for start, end in spans] == [(3, 3), (11, 12), (18, 19), (25, 26), (1, 2)]
    series.refresh_from_db()
    assert (series.until, series.length_days) == (date(2026, 11, 1), 2)
    assert days_kept() == recounted()


def test_a_mat_that_left_and_comes_back_is_planned_again(series, mats, keeper, on):
    change_following(week(series, 0), values(mats[:1]), by=keeper, on=on)
    change_following(week(series, 3), values(mats), by=keeper, on=on)
    assert [len(going(each)) for each in series.events.order_by("starts_on")] == [1, 1, 1, 2, 2]
    assert days_kept() == recounted()


def test_weeks_that_are_over_or_went_stay_as_they_were(series, mats, keeper):
    on = date(2026, 10, 17)
    answer_event(week(series, 2), "went", by=keeper, on=on)
    with pytest.raises(ValidationError, match="is over or went"):
        change_following(week(series, 0), values(mats, name="New"), by=keeper, on=on)
    change_following(week(series, 3), values(mats, name="New"), by=keeper, on=on)
    names = series.events.order_by("starts_on").values_list("name", flat=True)
    assert list(names) == ["Canal run"] * 3 + ["New"] * 2


def test_the_rest_is_refused_whole_where_a_mat_is_planned_elsewhere_or_leaves_that_week(series, mats, keeper, on):
    third = make_mat("M-003")
    planned_run([third], keeper, on, starts_on=date(2026, 10, 24), code="E-77", name="Fen Half")
    before = states(series)
    with pytest.raises(DatesTaken, match="M-003 on 24 Oct 2026: E-77") as refused:
        change_following(week(series, 1), values([*mats, third], place="Lock 1"), by=keeper, on=on)
    assert states(series) == before
    rest = change_following(
        week(series, 1), values([*mats, third], place="Lock 1"), by=keeper, on=on, confirmed=refused.value.fingerprint
    )
    assert [each.starts_on.day for each in rest.skipped] == [24]
    assert going(week(series, 3)) == ["M-001", "M-002"]
    assert going(week(series, 4)) == ["M-001", "M-002", "M-003"]


def test_the_rest_is_not_moved_before_today(series, mats, keeper):
    with pytest.raises(ValidationError, match="5 Oct 2026, before today"):
        change_following(week(series, 1), values(mats, weekday=0), by=keeper, on=date(2026, 10, 7))


def test_a_change_on_a_page_from_before_is_refused(series, mats, keeper, on):
    event = week(series, 1)
    correct_event(week(series, 1), by=keeper, on=on, name="Lantern run")
    with pytest.raises(ValidationError, match="Somebody else changed this"):
        change_following(event, values(mats), by=keeper, on=on, seen_version=event.version)


def test_ending_early_calls_off_the_rest_also_weeks_changed_alone(series, mats, keeper):
    on = date(2026, 10, 17)
    answer_event(week(series, 0), "went", by=keeper, on=on)
    correct_event(week(series, 4), by=keeper, on=on, name="Lantern run")
    assert end_series(series, last_day=date(2026, 10, 17), by=keeper, on=on) == 2
    assert [state for _, _, state in states(series)] == ["went"] * 2 + ["planned"] * 4 + ["called off"] * 4
    assert days_kept() == recounted()
    assert EventSeries.objects.get().until == date(2026, 10, 17)


@pytest.mark.parametrize("last_day", [date(2026, 10, 2), date(2026, 10, 31), date(2027, 1, 1)])
def test_a_series_ends_early_within_its_days_only(series, keeper, on, last_day):
    with pytest.raises(ValidationError, match="Write a day not before 3 Oct 2026 and before 31 Oct 2026"):
        end_series(series, last_day=last_day, by=keeper, on=on)


def test_what_each_week_said_before_stays_in_its_trail(series, mats, keeper, on):
    change_following(week(series, 1), values(mats, name="Canal evening"), by=keeper, on=on, reason="new sponsor")
    last = week(series, 4).history.first()
    assert (last.name, last.history_change_reason, last.history_user) == ("Canal evening", "new sponsor", keeper)
    assert week(series, 4).history.last().name == "Canal run"


def test_planned_weeks_count_towards_the_wear_of_the_cables(series, mats):
    from inspections.models import Assessment

    assert Assessment.objects.filter(mat=mats[0], before_event__isnull=True).count() == 4


def test_queries_of_a_long_series_are_those_of_a_short_one(mats, keeper, on, django_assert_max_num_queries):
    event = planned_run(mats, keeper, on)
    with django_assert_max_num_queries(60):
        series = repeat_event(event, every_weeks=1, until=date(2027, 9, 30), by=keeper, on=on)
    with django_assert_max_num_queries(60):
        change_following(week(series, 0), values(mats, weekday=3), by=keeper, on=on)
    with django_assert_max_num_queries(60):
        end_series(series, last_day=date(2026, 12, 31), by=keeper, on=on)


def test_a_withdrawn_mat_is_not_planned_on(mats, keeper, on):
    event = make_event(date(2026, 9, 12))
    make_usage_event(mats[0], event)
    mats[0].withdrawn_on = date(2026, 9, 20)
    mats[0].save()
    with pytest.raises(ValidationError, match="Withdrawn before"):
        repeat_event(event, every_weeks=1, until=date(2026, 10, 31), by=keeper, on=on)
