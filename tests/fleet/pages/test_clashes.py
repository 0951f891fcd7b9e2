"""A mat planned already: one line a mat with its days in words, and ways out beside it that keep what was typed."""

import html
import re
import uuid
from datetime import timedelta

import pytest
from factories import make_event, make_mat
from page_forms import form_in
from page_words import words_in

from fleet.models import Event, UsageEvent
from fleet.services.series import repeat_event
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event
from fleet.templatetags.days import days_in_short

pytestmark = pytest.mark.django_db
LOG = "/events/log/"


@pytest.fixture
def fridays(keeper, today):
    """Nine weeks of Canal run with mat 3, from ten days ahead on."""
    first = make_event(today + timedelta(days=10), code="E-1", name="Canal run")
    log_event(first, {make_mat("3"): UsageValues("planned")}, by=keeper, on=today)
    make_mat("5")
    repeat_event(first, every_weeks=1, until=first.starts_on + timedelta(weeks=8), by=keeper, on=today)
    return list(Event.objects.order_by("starts_on"))


def a_plan(starts_on, ends_on="", mats=("3", "5"), **values):
    empty = {"place": "", "weather": "", "code": "", "paste": "", "hours_out": "", "fold_cycles": "", "until": ""}
    rest = {"every_weeks": "1", "counts_for": "1", "basis": "counted", "act": "log", "event": "new"}
    days = {"starts_on": str(starts_on), "ends_on": str(ends_on)}
    return {"token": str(uuid.uuid4()), "name": "Winter <loan>", "mats": list(mats), **empty, **rest, **days, **values}


def ways(answer):
    """{words: value} of the ways out that the page offers."""
    pattern = r'name="confirmed" value="([0-9a-f ]+)">\s*<span>([^<]+)</span>'
    return {html.unescape(words): value for value, words in re.findall(pattern, answer.content.decode())}


def planned(event):
    return sorted(event.usage_events.filter(state="planned").values_list("mat__number", flat=True))


def clash_of_a_loan(client, fridays, **values):
    form = a_plan(fridays[0].starts_on, fridays[-1].ends_on, **values)
    answer = client.post(LOG, form)
    assert answer.status_code == 422
    return form, answer


def test_a_loan_that_clashes_on_nine_fridays_says_so_in_one_line_with_days_in_words(keeper_client, fridays):
    _, answer = clash_of_a_loan(keeper_client, fridays, place="Ridge", hours_out="")
    text = words_in(answer.content.decode())
    assert text.count("Already planned") == 1
    days = [f"{event.starts_on.day} {event.starts_on:%b}" for event in fridays]
    last = days_in_short(fridays[-1])
    assert f"Mat 3 on {', '.join(days[:3])} and 6 more days to {last}: Canal run (9 events)." in text
    assert not re.search(r"\d{4}-\d{2}-\d{2}", text.split("Already planned")[1].split("What do you want?")[0])
    assert list(ways(answer)) == ["Leave mat 3 out", "Call mat 3 off at the 9 other events"]
    kept = form_in(answer)
    assert (kept["name"], kept["place"]) == ("Winter <loan>", "Ridge")


def test_the_mat_is_left_out_and_the_others_are_planned(keeper_client, fridays):
    form, answer = clash_of_a_loan(keeper_client, fridays)
    stored = keeper_client.post(LOG, form | {"confirmed": ways(answer)["Leave mat 3 out"]}, follow=True)
    assert "Planned: 1 mat." in words_in(stored.content.decode())
    assert planned(Event.objects.get(name="Winter <loan>")) == ["5"]
    assert [planned(event) for event in fridays] == [["3"]] * 9


def test_or_the_weeks_are_left_out_for_the_mat_and_it_goes_on_the_loan(keeper_client, fridays):
    form, answer = clash_of_a_loan(keeper_client, fridays)
    confirmed = ways(answer)["Call mat 3 off at the 9 other events"]
    assert keeper_client.post(LOG, form | {"confirmed": confirmed}).status_code == 302
    loan = Event.objects.get(name="Winter <loan>")
    assert planned(loan) == ["3", "5"]
    called_off = UsageEvent.objects.filter(event__series__isnull=False)
    assert set(called_off.values_list("state", "event__changed_alone")) == {("called off", True)}
    assert called_off.first().history.first().history_change_reason == f"goes to {loan} instead"


def test_where_no_other_mat_is_left_only_the_other_event_can_give_way(keeper_client, fridays):
    form = a_plan(fridays[2].starts_on, mats=["3"])
    answer = keeper_client.post(LOG, form)
    (words,) = ways(answer)
    assert words == "Call mat 3 off at the other event"
    assert keeper_client.post(LOG, form | {"confirmed": ways(answer)[words]}).status_code == 302
    assert planned(fridays[2]) == []


def test_an_answer_for_other_days_changes_nothing(keeper_client, fridays):
    _, answer = clash_of_a_loan(keeper_client, fridays)
    other = a_plan(fridays[1].starts_on, fridays[-1].ends_on)
    for confirmed in ways(answer).values():
        assert keeper_client.post(LOG, other | {"confirmed": confirmed}).status_code == 422
    assert not Event.objects.filter(name="Winter <loan>").exists()


def test_a_series_may_leave_its_taken_weeks_out_or_the_mat_in_them(keeper_client, fridays):
    starts_on = fridays[0].starts_on - timedelta(weeks=1)
    form = a_plan(starts_on, until=str(starts_on + timedelta(weeks=2)), name="Hill run")
    answer = keeper_client.post(LOG, form)
    first, second = (f"{event.starts_on.day} {event.starts_on:%b}" for event in fridays[:2])
    days = f"{first} and {second} {fridays[1].starts_on.year}"
    if fridays[0].starts_on.year != fridays[1].starts_on.year:
        days = f"{first} {fridays[0].starts_on.year} and {second} {fridays[1].starts_on.year}"
    assert list(ways(answer)) == [f"Leave these weeks out: {days}", f"Plan these weeks without mat 3: {days}"]
    confirmed = ways(answer)[f"Plan these weeks without mat 3: {days}"]
    assert keeper_client.post(LOG, form | {"confirmed": confirmed}).status_code == 302
    weeks = Event.objects.filter(name="Hill run").order_by("starts_on")
    assert [planned(event) for event in weeks] == [["3", "5"], ["5"], ["5"]]


def test_each_of_several_mats_has_its_line(keeper_client, fridays, keeper, today):
    other = make_event(fridays[3].starts_on, code="E-99", name="Fen Half")
    log_event(other, {make_mat("7"): UsageValues("planned")}, by=keeper, on=today)
    _, answer = clash_of_a_loan(keeper_client, fridays, mats=["3", "5", "7"])
    text = words_in(answer.content.decode())
    assert text.count("Already planned") == 2
    assert f"Already planned: Mat 7 on {days_in_short(other)}: E-99 Fen Half." in text
    assert list(ways(answer)) == ["Leave mat 3 and mat 7 out", "Call mat 3 and mat 7 off at the 10 other events"]
