"""A loan on its way back: how many events did it go to, reported or assumed."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_event, make_mat, make_usage_event
from page_forms import seen_on

from fleet.models import MatDay, UsageEvent
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event

BACK = "/events/E-1/back/"

pytestmark = pytest.mark.django_db


def page_of(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def mats():
    return [make_mat(f"M-00{number}", fitted=True) for number in (1, 2)]


def lend(mats, today, days=73, ended=1, code="E-1", **values):
    """Away for that many days, until so many days ago."""
    event = make_event(today - timedelta(days=ended + days - 1), days, code=code, name="Season at Fen Ridge")
    log_event(event, {mat: UsageValues("planned", **values) for mat in mats}, by=None, on=today)
    return event


@pytest.fixture
def loan(mats, today):
    """73 days, a fifth of a year. The first mat went to 20 events in the year before, the second to none."""
    event = lend(mats, today)
    for number in range(20):
        make_usage_event(mats[0], make_event(event.starts_on - timedelta(days=10 + 15 * number)))
    # longer than a year before the loan began
    make_usage_event(mats[0], make_event(event.starts_on - timedelta(days=400)))
    return event


def told(event):
    return list(event.usage_events.order_by("mat__number").values_list("state", "counts_for", "basis"))


def test_the_first_page_asks_a_loan_how_many_events_it_counted_for(keeper_client, loan):
    page = page_of(keeper_client.get("/"))
    assert "Back? How many events did each mat go to?" in page
    # (20 events a year over a fifth of it, and at least 1): the mean of 4 and 1, rounded
    assert 'name="counts_for" inputmode="numeric" autocomplete="off" value="2"' in page
    assert '<option value="assumed">' in page
    assert 'value="went"' not in page


def test_one_form_answers_all_mats_of_the_loan_and_leads_back(keeper_client, loan):
    seen = seen_on(keeper_client, BACK)
    answer = keeper_client.post(BACK, {"counts_for": "9", "basis": "reported", "next": "/"} | seen)
    assert (answer.status_code, answer.url) == (302, "/")
    assert told(loan) == [("went", 9, "reported"), ("went", 9, "reported")]
    assert "Did these events take place?" not in page_of(keeper_client.get("/"))


def test_each_mat_has_its_own_proposal_on_the_page_of_the_loan(keeper_client, loan, mats):
    form = keeper_client.get("/events/E-1/back/").context["form"]
    assert [(field.label, field.value()) for field in form.of_mats] == [("M-001", 4), ("M-002", 1)]
    assert form["basis"].value() == "assumed"
    own = {f"mat{mats[0].pk}": "5", f"mat{mats[1].pk}": "2"}
    keeper_client.post(BACK, own | {"basis": "assumed"} | seen_on(keeper_client, BACK))
    assert told(loan) == [("went", 5, "assumed"), ("went", 2, "assumed")]


def test_what_was_assumed_when_it_went_out_is_proposed(keeper_client, mats, today):
    lend(mats[:1], today, counts_for=12, basis="assumed")
    assert 'value="12"' in page_of(keeper_client.get("/"))


@pytest.mark.parametrize("count", ["", "0", "-3", "many", "99999"])
def test_a_number_that_is_none_is_refused_and_nothing_is_counted(keeper_client, loan, count):
    answer = keeper_client.post(BACK, {"counts_for": count, "basis": "reported"} | seen_on(keeper_client, BACK))
    assert answer.status_code == 422
    assert {field.value() or "" for field in answer.context["form"].of_mats} == {count}
    assert {state for state, *_ in told(loan)} == {"planned"}


def test_a_second_tap_counts_nothing_twice(keeper_client, loan):
    form = {"counts_for": "9", "basis": "reported"} | seen_on(keeper_client, BACK)
    keeper_client.post(BACK, form)
    answer = keeper_client.post(BACK, form | {"counts_for": "1"}, follow=True)
    assert "was confirmed already" in page_of(answer)
    assert told(loan) == [("went", 9, "reported"), ("went", 9, "reported")]


def test_a_loan_back_early_ends_on_its_day_and_frees_the_mats(keeper_client, mats, today):
    event = lend(mats, today, ended=-20)
    assert "Back already" in page_of(keeper_client.get("/events/E-1/"))
    form = {"counts_for": "6", "basis": "reported", "back_on": today} | seen_on(keeper_client, BACK)
    answer = keeper_client.post(BACK, form)
    assert answer.status_code == 302
    event.refresh_from_db()
    assert (event.ends_on, told(event)[0]) == (today, ("went", 6, "reported"))
    assert not MatDay.objects.filter(day__gt=today).exists()


def test_a_loan_still_out_is_not_back_without_a_day(keeper_client, mats, today):
    event = lend(mats, today, ended=-20)
    form = {"counts_for": "6", "basis": "reported"} | seen_on(keeper_client, BACK)
    answer = keeper_client.post(BACK, form)
    assert answer.status_code == 422
    late = keeper_client.post(BACK, form | {"back_on": event.starts_on - timedelta(days=1)})
    assert "write a day from then up to today" in page_of(late)
    assert {state for state, *_ in told(event)} == {"planned"}


def test_hours_and_folds_told_before_stay(keeper_client, loan):
    UsageEvent.objects.filter(event=loan).update(hours_out=3.5, fold_cycles=8)
    keeper_client.post(BACK, {"counts_for": "9", "basis": "reported"} | seen_on(keeper_client, BACK))
    assert set(loan.usage_events.values_list("hours_out", "fold_cycles")) == {(3.5, 8)}


def test_a_weekend_is_no_loan_and_is_answered_in_one_tap(keeper_client, mats, today):
    lend(mats, today, days=2)
    page = page_of(keeper_client.get("/"))
    assert "Back?" not in page and 'value="went"' in page


def test_queries_do_not_grow_with_the_loans_that_wait(keeper_client, today):
    counts, made = [], 0
    keeper_client.get("/events/")
    for size in (1, 3, 30):
        while made < size:
            made += 1
            lend([make_mat(), make_mat()], today, code=f"E-{made}")
        with CaptureQueriesContext(connection) as captured:
            assert keeper_client.get("/events/").status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1
