"""The page that logs an event, as it is sent by a browser."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_depot, make_event, make_mat, make_usage_event

from fleet.choices import UsageState
from fleet.models import Event, UsageEvent
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event

pytestmark = pytest.mark.django_db
URL = "/events/log/"


def page_text(response):
    return response.content.decode()


def sent(**values):
    """What the page sends for one tap on *Log the event*."""
    empty = {"starts_on": "", "ends_on": "", "name": "", "place": "", "weather": "", "code": "", "paste": ""}
    rest = {"hours_out": "", "fold_cycles": "", "counts_for": "1", "basis": "counted", "act": "log", "mats": []}
    return {"token": str(uuid.uuid4()), **empty, **rest, **values}


@pytest.fixture
def mats(db):
    design = make_mat("M-900").design
    return [make_mat(f"M-{number:03d}", design=design) for number in range(1, 7)]


def logged(event):
    return {row.mat.number: (row.state, row.hours_out, row.fold_cycles) for row in event.usage_events.all()}


def test_the_page_offers_events_nearby_and_nothing_is_chosen(keeper_client, today, mats):
    near, far = make_event(today - timedelta(days=3)), make_event(today - timedelta(days=99))
    page = keeper_client.get(URL)
    assert page.status_code == 200
    assert [event.code for event in page.context["form"].events.values()] == [near.code]
    assert far.code not in page_text(page)
    assert page.context["form"].listed.mats == ()


def test_the_depot_of_the_planned_mats_stands_first(keeper_client, today, mats):
    event = make_event(today + timedelta(days=3))
    north = make_mat("N-001", design=mats[0].design, depot=make_depot("Anvil Yard"))
    south = make_mat("S-001", design=mats[0].design, depot=make_depot("South Shed"))
    page = page_text(keeper_client.get(URL))
    assert page.index(f'value="{north}"') < page.index(f'value="{south}"')
    make_usage_event(south, event, state="planned")
    page = page_text(keeper_client.get(f"{URL}?event={event.code}"))
    assert page.index(f'value="{south}"') < page.index(f'value="{north}"') < page.index('value="M-001"')


def test_a_new_event_with_its_mats_is_logged_in_one_go(keeper_client, keeper, today, mats):
    values = sent(event="new", name="Hill run", place="Ridge", starts_on=str(today), weather="rain")
    values |= {"mats": ["M-001", "M-002"], "hours_out": "6,5", "fold_cycles": "2"}
    answer = keeper_client.post(URL, values)
    event = Event.objects.get()
    assert (answer.status_code, answer.url) == (302, reverse("fleet:event-detail", args=[event.code]))
    assert (event.code, event.ends_on, event.weather) == (f"E-{today.year}-01", today, "rain")
    assert logged(event) == {"M-001": ("went", 6.5, 2), "M-002": ("went", 6.5, 2)}
    assert {row.recorded_by for row in event.usage_events.all()} == {keeper}


def test_the_same_form_sent_twice_counts_once(keeper_client, today, mats):
    values = sent(event="new", name="Hill run", starts_on=str(today), mats=["M-001"])
    first, second = keeper_client.post(URL, values), keeper_client.post(URL, values)
    assert first.url == second.url
    assert (Event.objects.count(), UsageEvent.objects.count()) == (1, 1)


def test_an_event_ahead_is_planned(keeper_client, today, mats):
    keeper_client.post(URL, sent(event="new", name="Run", starts_on=str(today + timedelta(days=9)), mats=["M-001"]))
    assert UsageEvent.objects.get().state == UsageState.PLANNED


def test_an_event_of_today_may_be_only_planned(keeper_client, today, mats):
    event = make_event(today)
    keeper_client.post(URL, sent(event=event.code, mats=["M-001"], only_planned="on"))
    assert UsageEvent.objects.get().state == UsageState.PLANNED


def test_a_chosen_event_comes_with_its_planned_mats_ticked(keeper_client, today, keeper, mats):
    event = make_event(today - timedelta(days=1))
    log_event(event, dict.fromkeys(mats[1:4], UsageValues("planned")), by=keeper, on=today)
    page = keeper_client.get(URL, {"event": event.code})
    assert [mat.number for mat in page.context["form"].listed.mats] == ["M-002", "M-003", "M-004"]
    assert 'value="M-002" checked' in page_text(page)


def test_choosing_another_event_takes_its_mats_instead(keeper_client, today, keeper, mats):
    first, second = make_event(today - timedelta(days=1)), make_event(today - timedelta(days=2))
    log_event(first, dict.fromkeys(mats[:2], UsageValues("planned")), by=keeper, on=today)
    log_event(second, dict.fromkeys(mats[2:3], UsageValues("planned")), by=keeper, on=today)
    values = sent(event=second.code, act="choose", offered="M-001\nM-002", mats=["M-001", "M-002", "M-006"])
    page = keeper_client.post(URL, values, headers={"HX-Request": "true"})
    assert [mat.number for mat in page.context["form"].listed.mats] == ["M-006", "M-003"]
    assert page.templates[0].name == "fleet/_log_mats.html"
    assert UsageEvent.objects.filter(state="went").count() == 0


def test_same_mats_as_last_time_are_those_of_the_newest_event_of_that_name(keeper_client, today, mats):
    for days, name, mat in ((30, "Hill run", 0), (20, "hill run", 1), (10, "Canal run", 2)):
        make_usage_event(mats[mat], make_event(today - timedelta(days=days), name=name))
    make_usage_event(mats[3], Event.objects.get(name="hill run"), state="called off")
    now = make_event(today, name="Hill run")
    page = keeper_client.post(URL, sent(event=now.code, act="same", mats=["M-006"], hours_out="7"))
    assert page.status_code == 200
    assert [mat.number for mat in page.context["form"].listed.mats] == ["M-006", "M-002"]
    assert page.context["form"]["hours_out"].value() == "7"
    assert not now.usage_events.exists()


def test_without_a_name_or_place_to_go_by_last_time_is_the_newest_event(keeper_client, today, mats):
    make_usage_event(mats[0], make_event(today - timedelta(days=30), name="Hill run"))
    make_usage_event(mats[1], make_event(today - timedelta(days=10), name="Canal run"))
    page = keeper_client.post(URL, sent(event="new", name="Ski day", starts_on=str(today), act="same"))
    assert [mat.number for mat in page.context["form"].listed.mats] == ["M-002"]


def test_a_pasted_list_names_the_unknown_and_loses_nothing(keeper_client, today, mats):
    make_mat("M-077", withdrawn_on=today - timedelta(days=40), withdrawal_reason="torn")
    event = make_event(today)
    values = sent(event=event.code, mats=["M-001"], paste="m-002; M-0O3\nM-004 to M-005 M-077", hours_out="6,5")
    page = keeper_client.post(URL, values)
    assert page.status_code == 422
    form = page.context["form"]
    assert [mat.number for mat in form.listed.mats] == ["M-001", "M-002", "M-004", "M-005"]
    assert form.non_field_errors()[0] == "Not known: M-0O3. Correct them in the list below, or leave them out."
    assert "M-077" in form.non_field_errors()[1]
    assert ">M-0O3, M-077</textarea>" in page_text(page)
    assert 'value="6,5"' in page_text(page)
    assert not UsageEvent.objects.exists()
    keeper_client.post(URL, values | {"mats": [mat.number for mat in form.listed.mats], "paste": ""})
    assert sorted(logged(event)) == ["M-001", "M-002", "M-004", "M-005"]


def test_a_mat_that_differs_keeps_its_own_hours_and_one_stays_at_home(keeper_client, today, mats):
    event = make_event(today)
    values = sent(event=event.code, mats=["M-001", "M-002", "M-003"], hours_out="6", fold_cycles="2")
    asked = keeper_client.post(URL, values | {"act": "differ"})
    assert [str(exception.mat) for exception in asked.context["form"].exceptions] == ["M-001", "M-002", "M-003"]
    first, second, third = (f"mat{mat.pk}" for mat in mats[:3])
    differing = {"differ": "1", f"{first}-hours_out": "9,5", f"{second}-called_off": "on", f"{third}-counts_for": "2"}
    keeper_client.post(URL, values | differing)
    assert logged(event) == {"M-001": ("went", 9.5, 2), "M-002": ("called off", None, None), "M-003": ("went", 6, 2)}
    assert event.usage_events.get(mat=mats[2]).counts_for == 2


def test_a_wrong_value_of_one_mat_keeps_all_that_was_typed(keeper_client, today, mats):
    event, prefix = make_event(today), f"mat{mats[0].pk}"
    values = sent(event=event.code, mats=["M-001"], hours_out="6", differ="1", **{f"{prefix}-hours_out": "long"})
    page = keeper_client.post(URL, values)
    assert page.status_code == 422
    assert 'value="long"' in page_text(page)
    assert not UsageEvent.objects.exists()


def test_a_loan_counts_for_twelve_events(keeper_client, today, mats):
    start = today - timedelta(days=150)
    values = sent(event="new", name="Loan", starts_on=str(start), ends_on=str(today), mats=["M-001"])
    keeper_client.post(URL, values | {"counts_for": "12", "basis": "reported"})
    row = UsageEvent.objects.get()
    assert (row.counts_for, row.basis, row.days.count()) == (12, "reported", 151)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"event": ""}, "Choose the event"),
        ({"mats": []}, "Tick the mats"),
        ({"hours_out": "-1"}, "Write 0 or a number above it."),
        ({"hours_out": "NaN"}, "Write a number, such as 1.5."),
        ({"fold_cycles": "2.5"}, "Write a whole number, such as 2."),
        ({"fold_cycles": "99999999999"}, "Write 32767 or a number below it."),
        ({"counts_for": "0"}, "Write 1 or a number above it."),
        ({"basis": "guessed"}, "Choose one of the values that are offered"),
        ({"event": "new", "name": "", "starts_on": "2026-02-30"}, "Write a day that the calendar has"),
        ({"event": "new", "name": "Run", "starts_on": "2026-03-03", "ends_on": "2026-03-01"}, "ends before it starts"),
        ({"event": "new", "name": "Run", "starts_on": "2020-03-03", "ends_on": "2026-03-01"}, "at most 366 days"),
        ({"event": "new", "name": "Run", "starts_on": "2026-03-03", "code": "a/b"}, "no slash"),
        ({"event": "new", "name": "Run", "starts_on": "2026-03-03", "code": "E-taken"}, "There is E-taken already"),
        (
            {"event": "new", "name": "Run", "starts_on": "2026-03-03", "code": "log"},
            "an address that the app uses itself",
        ),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(keeper_client, today, mats, wrong, sentence):
    make_event(today, code="E-taken")
    values = sent(event="E-taken", mats=["M-001", "M-005"], place="Old <town>") | wrong
    page = keeper_client.post(URL, values)
    assert page.status_code == 422
    assert sentence in page_text(page)
    assert "Old &lt;town&gt;" in page_text(page)
    assert page_text(page).count(" checked") >= len(values["mats"])
    assert (Event.objects.count(), UsageEvent.objects.count()) == (1, 0)


def test_what_stands_in_the_fields_of_a_new_event_does_not_hinder_a_chosen_one(keeper_client, today, mats):
    event = make_event(today)
    values = sent(event=event.code, mats=["M-001"], starts_on="rubbish", name="x" * 999)
    assert keeper_client.post(URL, values).status_code == 302


def test_planned_elsewhere_that_day_is_refused_by_name_and_the_new_event_is_not_kept(
    keeper_client, today, keeper, mats
):
    day = today + timedelta(days=5)
    other = make_event(day, name="Canal run", code="E-77")
    log_event(other, {mats[0]: UsageValues("planned")}, by=keeper, on=today)
    page = keeper_client.post(URL, sent(event="new", name="Hill run", starts_on=str(day), mats=["M-001", "M-002"]))
    assert page.status_code == 422
    assert f"Already planned: M-001 on {day.day} {day:%b %Y}: E-77 Canal run." in page_text(page)
    assert Event.objects.count() == 1


def test_went_twice_on_a_day_is_asked_back_and_then_marked(keeper_client, today, mats):
    make_usage_event(mats[0], make_event(today, name="Canal run"))
    log_event(Event.objects.get(), {mats[1]: UsageValues("went")}, by=None, on=today)
    values = sent(event="new", name="Hill run", starts_on=str(today), mats=["M-002", "M-003"])
    asked = keeper_client.post(URL, values)
    assert asked.status_code == 422
    shared = asked.context["form"].refused
    assert [(clash.mat, clash.event.name) for clash in shared.clashes] == [("M-002", "Canal run")]
    assert f'value="{shared.fingerprint}"' in page_text(asked)
    assert keeper_client.post(URL, values | {"confirmed": shared.fingerprint}).status_code == 302
    marks = Event.objects.get(name="Hill run").usage_events.values_list("mat__number", "shares_a_day")
    assert dict(marks) == {"M-002": True, "M-003": False}


def test_who_logs_is_offered_what_took_place_and_no_plans(log_client, keeper_client, today, mats):
    make_usage_event(mats[0], make_event(today + timedelta(days=3), code="AHEAD"), state="planned")
    make_usage_event(mats[1], make_event(today - timedelta(days=3), code="OVER"), state="planned")
    make_usage_event(mats[2], make_event(today - timedelta(days=40), 35, code="LOAN"), state="planned")
    planning = ('name="until"', 'name="only_planned"', 'name="counts_for"')
    offered = {}
    for client in (log_client, keeper_client):
        page = client.get(URL)
        offered[client] = (set(page.context["form"].events), [field in page_text(page) for field in planning])
    assert offered[log_client] == ({"OVER"}, [False] * 3)
    assert offered[keeper_client] == ({"AHEAD", "OVER", "LOAN"}, [True] * 3)


def test_who_logs_logs_an_event_that_happened(log_client, log_hand, today, mats):
    values = sent(event="new", name="Hill run", starts_on=str(today), mats=["M-001", "M-002"], hours_out="5")
    del values["counts_for"], values["basis"]
    assert log_client.post(URL, values).status_code == 302
    assert [(row.state, row.counts_for, row.basis, row.recorded_by) for row in UsageEvent.objects.all()] == [
        ("went", 1, "counted", log_hand)
    ] * 2


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [(1, 1, "Log it when it is over."), (0, 2, "Log it when it is over."), (-30, -10, "A keeper logs loans.")],
)
def test_what_only_a_keeper_plans_is_refused_and_what_was_typed_stays(log_client, today, mats, first, last, says):
    days = {"starts_on": str(today + timedelta(days=first)), "ends_on": str(today + timedelta(days=last))}
    answer = log_client.post(URL, sent(event="new", name="Hill run", mats=["M-001"], **days))
    assert answer.status_code == 422
    assert says in page_text(answer) and 'value="Hill run"' in page_text(answer)
    assert not Event.objects.exists()


def test_logging_needs_the_role(visitor_client, bench_client, mats):
    assert visitor_client.get(URL).status_code == 403
    assert visitor_client.post(URL, sent()).status_code == 403
    assert bench_client.get(URL).status_code == 200
    assert Client().get(URL).url == f"/sign-in/?next={URL}"


def test_an_event_that_is_not_there_is_not_found(keeper_client):
    assert keeper_client.get(URL, {"event": "E-nothing"}).status_code == 404


def test_the_first_event_of_a_pool_needs_no_choice(keeper_client, mats):
    page = page_text(keeper_client.get(URL))
    assert '<input type="hidden" name="event" value="new">' in page


def test_queries_do_not_grow_with_mats(keeper_client, today):
    event = make_event(today)
    design = make_mat().design
    # the first page of a day assesses the pool
    keeper_client.get(URL)
    counts = []
    for more in (1, 2, 47):
        for _ in range(more):
            make_usage_event(make_mat(design=design), event, state="planned")
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get(URL, {"event": event.code})
        counts.append(len(queries))
    assert counts == [counts[0]] * 3


def test_a_note_in_the_list_of_mats_is_asked_about_and_is_no_mat(keeper_client, today, mats):
    values = sent(event="new", name="Hill run", starts_on=str(today), paste="M-001 und M-002 (old)")
    asked = keeper_client.post(URL, values)
    assert asked.status_code == 422
    assert "Left out of the list of mats, as a note: (old)" in page_text(asked)
    assert not Event.objects.exists()
    tick = page_text(asked).partition('name="confirmed" value="')[2].partition('"')[0]
    assert keeper_client.post(URL, values | {"confirmed": tick}).status_code == 302
    assert logged(Event.objects.get()).keys() == {"M-001", "M-002"}
