"""The list of events, an event's page, its answer and its corrections."""

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_event, make_mat, make_plain_design, make_plain_mat, make_usage_event
from page_forms import form_in, seen_on
from page_words import words_in

from fleet.choices import UsageState
from fleet.models import Event, MatDay, UsageEvent
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event
from inspections.assessment.services import assess_pool
from inspections.models import Assessment
from inspections.numeric.words import Status

pytestmark = pytest.mark.django_db


def page_text(response):
    return response.content.decode()


def planned(event, *mats, by=None, on=None):
    return log_event(event, dict.fromkeys(mats, UsageValues("planned")), by=by, on=on or event.starts_on)


def listed(client, **filters):
    return [row.record.code for row in client.get("/events/", filters).context["table"].rows]


@pytest.fixture
def year_of_events(today):
    """One in each state."""
    dates = {"soon": 3, "later": 40, "waits": -2, "went": -30, "off": -60, "bare": -90}
    events = {name: make_event(today + timedelta(days=days), code=name, place="Fen") for name, days in dates.items()}
    for name, state in {
        "soon": "planned",
        "later": "planned",
        "waits": "planned",
        "went": "went",
        "off": "called off",
    }.items():
        make_usage_event(make_mat(), events[name], state=state)
    return events


def test_events_ahead_come_first_soonest_first_then_the_past_newest_first(visitor_client, year_of_events):
    assert listed(visitor_client) == ["soon", "later", "waits", "went", "off", "bare"]


def test_each_event_says_its_state_in_words(visitor_client, year_of_events):
    rows = visitor_client.get("/events/").context["table"].rows
    words = [" ".join(row.get_cell("state").replace("<b>", "").replace("</b>", "").split()) for row in rows]
    assert words == ["planned", "planned", "to be confirmed", "went", "called off", "no mats yet"]


def test_events_are_filtered_by_state_year_and_text(visitor_client, today, year_of_events):
    make_event(today - timedelta(days=800), code="old", name="Old run", place="Long Reach")
    assert listed(visitor_client, state="waits") == ["waits"]
    assert listed(visitor_client, state="planned") == ["soon", "later"]
    assert listed(visitor_client, state="went") == ["went"]
    assert listed(visitor_client, year=str((today - timedelta(days=800)).year)) == ["old"]
    assert listed(visitor_client, find="long reach") == ["old"]
    assert listed(visitor_client, find="LATER") == ["later"]


@pytest.mark.parametrize(
    "filters", [{"year": "x"}, {"year": "99999999999"}, {"state": "lost"}, {"page": "77"}, {"sort": "zz"}]
)
def test_a_filter_that_means_nothing_shows_all(visitor_client, year_of_events, filters):
    assert len(listed(visitor_client, **filters)) == 6


def test_an_empty_list_says_what_to_do_first(keeper_client):
    assert "No events yet." in page_text(keeper_client.get("/events/"))


def test_a_visitor_is_offered_no_act(visitor_client, year_of_events):
    for address in ("/events/", "/events/waits/"):
        page = page_text(visitor_client.get(address))
        assert ">Went<" not in page
        assert "/events/log/" not in page
    assert visitor_client.post("/events/waits/answer/", {"state": "went"}).status_code == 403
    assert visitor_client.get("/events/waits/correct/").status_code == 403


def test_an_unanswered_event_heads_the_list_until_answered(keeper_client, today, year_of_events):
    assert [event.code for event in keeper_client.get("/events/").context["unanswered"]] == ["waits"]
    seen = seen_on(keeper_client, "/events/waits/answer/")
    answer = keeper_client.post("/events/waits/answer/", seen | {"state": "went", "next": "/events/?state=waits"})
    assert answer.url == "/events/?state=waits"
    assert keeper_client.get("/events/").context["unanswered"] == []
    assert Event.objects.get(code="waits").usage_events.get().state == UsageState.WENT


WAITS_OFF = "/events/waits/answer/?state=called+off"


def test_calling_off_for_everybody_says_what_it_does_before_it_is_done(keeper_client, year_of_events):
    make_usage_event(make_mat("M-EXTRA"), year_of_events["waits"], state="planned")
    make_usage_event(make_mat("M-WENT"), year_of_events["waits"], state="went")
    for address in ("/events/", "/events/waits/"):
        page = page_text(keeper_client.get(address))
        assert WAITS_OFF in page
        assert '<button class="button secondary" name="state"' not in page
    asked = " ".join(page_text(keeper_client.get(WAITS_OFF)).split())
    assert "2 mats are planned." in asked
    assert re.search(r"Called off: .*M-EXTRA", asked)
    assert "Until now they counted as went" in asked
    assert re.search(r"Logged as went, and left so: .*M-WENT", asked)
    assert [row.state for row in UsageEvent.objects.filter(event__code="waits").order_by("pk")][:2] == ["planned"] * 2
    answer = keeper_client.post(
        "/events/waits/answer/", form_in(keeper_client.get(WAITS_OFF)) | {"state": "called off"}
    )
    assert answer.url == "/events/waits/"
    states = UsageEvent.objects.filter(event__code="waits").order_by("pk").values_list("state", flat=True)
    assert list(states) == ["called off", "called off", "went"]


def test_nothing_is_left_to_call_off_where_no_mat_is_planned(keeper_client, year_of_events):
    page = page_text(keeper_client.get("/events/went/answer/?state=called+off"))
    assert "No mat is planned for it any more." in page
    assert "Call off for everybody" not in page


def test_who_logs_says_which_mat_stayed_home_and_calls_nothing_off_ahead(log_client, year_of_events):
    over, ahead = (page_text(log_client.get(f"/events/{code}/")) for code in ("waits", "soon"))
    assert "Stayed home" in over and ">Went<" in over
    assert "call-off" not in ahead and "Call off" not in ahead and "/events/log/?" not in ahead
    usage = year_of_events["waits"].usage_events.get()
    place = f"/events/waits/mats/{usage.mat}/call-off/"
    log_client.post(place, form_in(log_client.get("/events/waits/"), place))
    usage.refresh_from_db()
    assert usage.state == "called off"


def test_an_answer_leads_nowhere_but_within_the_app(keeper_client, year_of_events):
    seen = seen_on(keeper_client, "/events/waits/answer/")
    elsewhere = {"state": "called off", "next": "https://elsewhere.example/"}
    answer = keeper_client.post("/events/waits/answer/", seen | elsewhere)
    assert answer.url == "/events/waits/"


def test_a_wrong_answer_is_refused_with_a_sentence(keeper_client, year_of_events):
    waits, soon = "/events/waits/answer/", "/events/soon/answer/"
    wrong = keeper_client.post(waits, {"state": "perhaps"} | seen_on(keeper_client, waits))
    early = keeper_client.post(soon, {"state": "went"} | seen_on(keeper_client, soon))
    assert (wrong.status_code, early.status_code) == (422, 422)
    assert "after today" in page_text(early)


def test_one_tap_asks_back_where_a_mat_was_elsewhere_that_day(keeper_client, today):
    day, mat = today - timedelta(days=1), make_mat("M-001")
    first, second = make_event(day, code="E-1"), make_event(day, code="E-2")
    log_event(first, {mat: UsageValues("went")}, by=None, on=today)
    make_usage_event(mat, second, state="planned")
    form = {"state": "went"} | seen_on(keeper_client, "/events/E-2/answer/")
    asked = keeper_client.post("/events/E-2/answer/", form)
    assert asked.status_code == 422
    assert "M-001" in page_text(asked)
    confirmed = asked.context["form"].refused.fingerprint
    assert keeper_client.post("/events/E-2/answer/", form | {"confirmed": confirmed}).status_code == 302
    assert second.usage_events.get().shares_a_day


def test_an_event_page_shows_each_mat_and_what_is_not_told(visitor_client, today):
    event = make_event(today - timedelta(days=3), code="E-1", place="Fen <1>", weather="rain")
    make_usage_event(make_mat("M-001"), event, hours_out=6.5, fold_cycles=2, counts_for=3, basis="reported")
    make_usage_event(make_mat("M-002"), event)
    page = visitor_client.get("/events/E-1/")
    names = ("hours_out", "fold_cycles", "counts_for", "basis")
    cells = [[row.get_cell(name) for name in names] for row in page.context["table"].rows]
    assert cells == [["6.5", 2, 3, "reported"], ["not recorded", "not recorded", 1, "counted"]]
    assert "Fen &lt;1&gt;" in page_text(page)


def test_one_mat_is_corrected_and_the_trail_says_who_what_and_why(keeper_client, today):
    event = make_event(today - timedelta(days=3), code="E-1")
    make_usage_event(make_mat("M-001"), event, hours_out=6.0)
    form = {
        "state": "went",
        "hours_out": "8,5",
        "fold_cycles": "",
        "counts_for": "1",
        "basis": "reported",
        "version": "1",
    }
    answer = keeper_client.post("/events/E-1/mats/M-001/", form | {"reason": "asked the driver"})
    assert answer.url == "/events/E-1/"
    corrected, entered = keeper_client.get("/events/E-1/").context["trail"]
    assert [(change.field, change.old, change.new) for change in corrected.changes] == [
        ("basis", "counted", "reported"),
        ("hours out", "6", "8.5"),
    ]
    assert (corrected.who, corrected.what, corrected.reason) == ("keeper", "M-001", "asked the driver")
    assert entered.what == "M-001: entered"


def test_a_correction_from_a_page_of_yesterday_changes_nothing_and_keeps_what_was_typed(keeper_client, today):
    event = make_event(today - timedelta(days=3), code="E-1")
    make_usage_event(make_mat("M-001"), event)
    form = {
        "state": "went",
        "hours_out": "4",
        "fold_cycles": "",
        "counts_for": "1",
        "basis": "reported",
        "version": "1",
    }
    keeper_client.post("/events/E-1/mats/M-001/", form)
    stale = keeper_client.post("/events/E-1/mats/M-001/", form | {"hours_out": "5"})
    assert stale.status_code == 422
    assert "Somebody else changed this meanwhile" in page_text(stale)
    assert 'value="5"' in page_text(stale)
    assert event.usage_events.get().hours_out == 4


def test_one_mat_is_called_off_in_one_tap(keeper_client, today):
    event = make_event(today + timedelta(days=3), code="E-1")
    planned(event, make_mat("M-001"), make_mat("M-002"), on=today)
    seen = {"row": event.usage_events.get(mat__number="M-001").pk, "version": 1}
    keeper_client.post("/events/E-1/mats/M-001/call-off/", seen)
    assert [row.mat.number for row in MatDay.objects.all()] == ["M-002"]


def test_an_event_is_corrected_and_its_days_move(keeper_client, today):
    event = make_event(today + timedelta(days=3), code="E-1")
    planned(event, make_mat(), on=today)
    day = today + timedelta(days=8)
    form = {"name": "Run", "starts_on": str(day), "ends_on": str(day), "place": "", "weather": "", "version": "1"}
    answer = keeper_client.post("/events/E-1/correct/", form | {"code": "E-9", "reason": "flood"})
    assert answer.url == "/events/E-9/"
    assert [row.day for row in MatDay.objects.all()] == [day]


def test_a_code_that_is_taken_is_refused_at_its_field(keeper_client, today):
    make_event(today, code="E-1")
    make_event(today, code="E-2")
    form = {"name": "Run", "starts_on": str(today), "ends_on": "", "place": "", "weather": "", "version": "1"}
    page = keeper_client.post("/events/E-1/correct/", form | {"code": "E-2"})
    assert page.status_code == 422
    assert page.context["form"].errors["code"]
    assert page.context["event"].code == "E-1"


def test_an_event_is_added_without_mats_once(keeper_client, today):
    form = {"token": str(uuid.uuid4()), "name": "Ski day", "starts_on": str(today), "ends_on": "", "code": ""}
    form |= {"place": "", "weather": "snow"}
    answers = [keeper_client.post("/events/add/", form) for _ in range(2)]
    assert {answer.url for answer in answers} == {Event.objects.get().get_absolute_url()}


def test_what_is_not_there_is_not_found(keeper_client, year_of_events):
    for address in ("/events/E-0/", "/events/E-0/correct/", "/events/soon/mats/M-0/", "/events/E-0/answer/"):
        assert keeper_client.get(address).status_code == 404


def test_queries_of_the_list_do_not_grow_with_events(keeper_client, today):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            keeper_client.get("/events/")
        return len(asked)

    counts, design = [], make_mat().design
    for more in (1, 2, 47):
        for _ in range(more):
            make_usage_event(make_mat(design=design), make_event(today - timedelta(days=1)), state="planned")
        counts.append(queries())
    assert counts == [counts[0]] * 3


def test_queries_of_an_event_page_do_not_grow_with_its_mats(keeper_client, keeper, today):
    event, design, counts = make_event(today - timedelta(days=1), code="E-1"), make_mat().design, []
    for more in (1, 2, 47):
        for _ in range(more):
            row = make_usage_event(make_mat(design=design), event, state="planned")
            row.correct(by=keeper, hours_out=3.0)
        with CaptureQueriesContext(connection) as asked:
            page = keeper_client.get("/events/E-1/")
        counts.append(len(asked))
        assert len(page.context["trail"]) == 2 * event.usage_events.count()
    assert counts == [counts[0]] * 3


def test_planned_mats_that_should_not_go_stand_first_with_the_reason(visitor_client, today):
    """What is not known of the others is said too, and never that they are fit."""
    event = make_event(today + timedelta(days=3))
    fit = make_plain_mat(make_plain_design(3), number="M-1", fitted=True, fitted_on=today)
    unsure = make_plain_mat(make_plain_design(2), number="M-2", fitted=True, fitted_on=today)
    aged = make_plain_mat(make_plain_design(3), number="M-3", fitted=True, fitted_on=today - timedelta(days=2000))
    for mat in (fit, unsure, aged):
        make_usage_event(mat, event, state="planned")
    assess_pool(today)
    Assessment.objects.filter(mat=unsure).update(urgency=Status.MEASURE.order)
    table = visitor_client.get(event.get_absolute_url()).context["table"]
    said = [(str(row.record.mat), words_in(row.get_cell("condition"))) for row in table.rows]
    assert said == [("M-3", "3 cables due"), ("M-1", "nothing due by then"), ("M-2", "2 to measure")]


def test_columns_in_which_every_mat_says_what_is_usual_are_left_out(visitor_client, today):
    event = make_event(today + timedelta(days=3))
    make_usage_event(make_mat("M-001"), event, state="planned")
    shown = visitor_client.get(event.get_absolute_url()).context["table"].columns.names()
    assert shown == ["mat", "condition", "design", "state"]
