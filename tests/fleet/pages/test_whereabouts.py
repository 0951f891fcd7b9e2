"""Where mats are: out from an event's first day until somebody says that they came home, with one tap."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.formats import date_format
from factories import make_event, make_mat, make_plain_design, make_series, make_usage_event
from page_forms import form_in
from page_words import words_in

from fleet.models import UsageEvent
from fleet.selectors.whereabouts import mats_away, whereabouts_of
from fleet.services.events import correct_event
from fleet.services.loans import take_back_loan
from fleet.services.usage import answer_event, call_off, correct_usage_event
from fleet.services.whereabouts import say_home

pytestmark = pytest.mark.django_db
HOME = "/events/E-1/home/"


@pytest.fixture
def mats():
    design = make_plain_design(1)
    return [make_mat(number, design=design) for number in ("M-1", "M-2", "M-3")]


@pytest.fixture
def loan(mats, today):
    """All three are away since ten days, for twenty more."""
    event = make_event(today - timedelta(days=10), 31, code="E-1", name="Winter loan")
    for mat in mats:
        make_usage_event(mat, event, "planned")
    return event


def away(on):
    return [(each.event.code, each.back, [row.mat.number for row in each.rows]) for each in mats_away(on)]


def words(client, place):
    return words_in(client.get(place).content.decode())


def section(client, heading="Out, and should be back"):
    text = words(client, "/")
    return text[text.index(f" {heading} ") :]


def day(value):
    return f"{value.day} {value:%b %Y}"


# --- what is out


@pytest.mark.parametrize(
    ("start", "days", "says"),
    [(0, 1, "out"), (-3, 4, "out"), (-3, 3, "back"), (-14, 1, "back"), (-15, 1, "home"), (1, 1, "home")],
)
@pytest.mark.parametrize("state", ["planned", "went"])
def test_out_until_the_last_day_and_for_fourteen_days_expected_back(mats, today, start, days, says, state):
    make_usage_event(mats[0], make_event(today + timedelta(days=start), days, code="E-1"), state)
    assert away(today) == {"out": [("E-1", False, ["M-1"])], "back": [("E-1", True, ["M-1"])], "home": []}[says]


def test_what_was_called_off_or_only_stands_for_a_month_is_not_out(mats, today):
    make_usage_event(mats[0], make_event(today), "called off")
    make_usage_event(mats[1], make_event(today, 20), "went", basis="usual")
    make_usage_event(mats[2], make_event(today, 20, name="Other events of the month, as reported"), "went")
    assert away(today) == []


def test_a_mat_that_left_again_is_not_expected_from_before(mats, today):
    make_usage_event(mats[0], make_event(today - timedelta(days=7), code="E-1"))
    make_usage_event(mats[1], make_event(today - timedelta(days=7), code="E-2"))
    make_usage_event(mats[0], make_event(today, code="E-3"), "planned")
    assert away(today) == [("E-2", True, ["M-2"]), ("E-3", False, ["M-1"])]


def test_a_mat_out_does_not_hinder_planning(mats, loan, today, keeper_client):
    UsageEvent.objects.update(state="went")
    event = make_event(today - timedelta(days=40), code="E-9")
    make_usage_event(mats[0], event, "planned")
    assert answer_event(event, "went", by=None, on=today) == 1


# --- pages


def test_today_says_which_are_out_since_when_and_with_what(log_client, loan, mats, today):
    assert "Winter loan out since" in section(log_client)
    assert "M-1 , M-2 , M-3 Came home" in section(log_client)
    assert day(loan.starts_on) in section(log_client) and day(loan.ends_on) in section(log_client)


def test_today_says_which_should_be_back(visitor_client, mats, today):
    make_usage_event(mats[0], make_event(today - timedelta(days=3), name="Fen Half"))
    assert "Fen Half should be back since" in section(visitor_client)
    assert "Came home" not in section(visitor_client)


def test_the_mat_says_where_it_is(visitor_client, loan, mats, today):
    assert "Out with Winter loan , since" in words(visitor_client, "/mats/M-1/")
    UsageEvent.objects.update(home_on=today)
    assert "Winter loan , since" not in words(visitor_client, "/mats/M-1/")
    assert whereabouts_of(mats[0], today) is None


def test_the_list_of_mats_shows_those_that_are_out_or_should_be_back(visitor_client, mats, today):
    make_usage_event(mats[0], make_event(today), "planned")
    make_usage_event(mats[1], make_event(today - timedelta(days=3)))

    def listed(where):
        table = visitor_client.get("/mats/", {"where": where}).context["table"]
        return [row.record.number for row in table.rows]

    assert [listed(where) for where in ("out", "should be back", "")] == [["M-1"], ["M-2"], ["M-1", "M-2", "M-3"]]


def test_more_events_than_are_shown_are_counted(visitor_client, mats, today):
    for _ in range(7):
        make_usage_event(make_mat(design=mats[0].design), make_event(today), "planned")
    assert "And 2 more events." in section(visitor_client)


# --- coming home


def tap(client, place, page=None, **typed):
    form = form_in(client.get(page or place), place)
    assert form
    return client.post(place, form | typed, follow=True)


@pytest.mark.parametrize("page", ["/", "/events/E-1/"])
def test_one_tap_brings_all_home_today(log_client, loan, today, page):
    answer = tap(log_client, HOME, page)
    assert answer.request["PATH_INFO"] == page
    assert "Winter loan: came home: 3 mats." in words_in(answer.content.decode())
    assert set(UsageEvent.objects.values_list("home_on", "state")) == {(today, "planned")}
    assert away(today) == []
    entry = loan.usage_events.first().history.first()
    assert (entry.history_change_reason, entry.history_user.username) == ("came home", "logger")


def test_the_form_waits_on_the_phone_without_signal(log_client, loan):
    for page in ("/", "/events/E-1/", HOME):
        assert 'action="/events/E-1/home/" data-queue="home"' in log_client.get(page).content.decode()


def test_all_but_some_on_another_day(log_client, loan, today):
    yesterday = today - timedelta(days=1)
    tap(log_client, HOME, home_on=str(yesterday), but=["M-2"])
    assert away(today) == [("E-1", False, ["M-2"])]
    assert set(UsageEvent.objects.exclude(mat__number="M-2").values_list("home_on", flat=True)) == {yesterday}


@pytest.mark.parametrize("days", [-11, 1])
def test_nothing_comes_home_before_it_left_or_tomorrow_and_what_was_typed_stays(log_client, loan, today, days):
    answer = tap(log_client, HOME, home_on=str(today + timedelta(days=days)), but=["M-2"])
    assert answer.status_code == 422
    assert (
        f"They left on {date_format(loan.starts_on, 'j M Y')}: write a day from then up to today."
        in answer.content.decode()
    )
    assert 'value="M-2" checked' in answer.content.decode()
    assert not UsageEvent.objects.exclude(home_on=None).exists()


def test_all_but_all_is_refused(log_client, loan):
    answer = tap(log_client, HOME, but=["M-1", "M-2", "M-3"])
    assert (answer.status_code, "Untick the mats that came home." in answer.content.decode()) == (422, True)


def test_two_phones_bring_them_home_once(log_client, keeper_client, loan, today):
    forms = [form_in(client.get("/events/E-1/"), HOME) for client in (log_client, keeper_client)]
    assert log_client.post(HOME, forms[0]).status_code == 302
    answer = keeper_client.post(HOME, forms[1] | {"home_on": str(today - timedelta(days=2))}, follow=True)
    assert "its mats came home before" in words_in(answer.content.decode())
    assert set(UsageEvent.objects.values_list("home_on", flat=True)) == {today}


def test_a_visitor_brings_nothing_home(visitor_client, loan):
    assert visitor_client.post(HOME, {}).status_code == 403


def test_it_is_undone_by_correcting_it(keeper, keeper_client, loan, today):
    say_home(loan, by=keeper, on=today, home_on=today)
    assert "home on" in words(keeper_client, "/events/E-1/")
    place = "/events/E-1/mats/M-1/"
    assert form_in(keeper_client.get(place))["home_on"] == str(today)
    keeper_client.post(place, form_in(keeper_client.get(place)) | {"home_on": ""})
    assert away(today) == [("E-1", False, ["M-1"])]


def test_a_corrected_day_lies_between_leaving_and_today(keeper, loan, today):
    row = loan.usage_events.first()
    with pytest.raises(ValidationError, match="They left on"):
        correct_usage_event(row, by=keeper, on=today, home_on=loan.starts_on - timedelta(days=1))


def test_what_is_called_off_after_all_came_home_on_no_day(keeper, loan, today):
    say_home(loan, by=keeper, on=today, home_on=today)
    first, second, _ = loan.usage_events.order_by("pk")
    call_off(first, by=keeper, on=today)
    correct_usage_event(second, by=keeper, on=today, state="called off", home_on=today, hours_out=None)
    answer = loan.usage_events.order_by("pk").values_list("state", "home_on")
    assert list(answer) == [("called off", None), ("called off", None), ("planned", today)]


def test_an_event_does_not_move_behind_the_day_its_mats_came_home(keeper, loan, today):
    say_home(loan, by=keeper, on=today, home_on=today - timedelta(days=3))
    with pytest.raises(ValidationError, match="Mats came home from E-1 Winter loan on"):
        correct_event(loan, by=keeper, on=today, starts_on=today - timedelta(days=2))
    loan.refresh_from_db()
    correct_event(loan, by=keeper, on=today, starts_on=today - timedelta(days=3))


def test_a_loan_that_is_back_is_home(keeper, loan, mats, today):
    back_on = today - timedelta(days=2)
    take_back_loan(loan, dict.fromkeys(mats, 4), basis="reported", by=keeper, on=today, back_on=back_on)
    assert set(loan.usage_events.values_list("state", "home_on")) == {("went", back_on)}
    assert away(today) == []


def test_answering_keeps_the_day_of_coming_home(keeper, mats, today):
    event = make_event(today - timedelta(days=2))
    make_usage_event(mats[0], event, "planned", home_on=today - timedelta(days=1))
    answer_event(event, "went", by=keeper, on=today)
    assert event.usage_events.get().home_on == today - timedelta(days=1)


def test_queries_grow_neither_with_mats_nor_with_events(log_client, loan, mats, today):
    log_client.get("/")
    counts, series = [], make_series(today - timedelta(days=60))
    for size in (1, 8):
        for number in range(size):
            mat = make_mat(design=mats[0].design)
            make_usage_event(mat, loan, "planned")
            make_usage_event(mat, make_event(today - timedelta(days=30 + number), series=series))
            make_usage_event(make_mat(design=mats[0].design), make_event(today - timedelta(days=2)))
        log_client.get("/")
        with CaptureQueriesContext(connection) as captured:
            for page in ("/", "/events/E-1/", HOME, "/mats/M-1/"):
                assert log_client.get(page).status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1
