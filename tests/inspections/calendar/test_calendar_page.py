"""The calendar as people see it: on the page, on paper, and the days of work that they set."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import log_usage_event, make_depot, make_event, make_plain_design, make_plain_mat
from page_forms import form_in
from page_words import words_in

from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.services import assess_pool
from inspections.models import PolicyValue, WorkOrder

pytestmark = pytest.mark.django_db
CALENDAR, WEEK, WORK_DAYS = "/calendar/", "/calendar/week/", "/calendar/work-days/"
EVERY_DAY = dict.fromkeys(range(7), "8")


@pytest.fixture
def due(keeper, today):
    def make(number, cables=2, *going, **values):
        old = today - timedelta(days=2000)
        mat = make_plain_mat(make_plain_design(cables), number=number, fitted=True, fitted_on=old, **values)
        for days, length in going:
            event = make_event(today + timedelta(days=days), length, name=f"Run of {number}")
            log_usage_event(mat, event, by=keeper, on=today, state="planned")
        assess_pool(today)
        return mat

    return make


def words_of(answer):
    return words_in(answer.content.decode())


def say(client, cables, owner="pool"):
    """Cables for each weekday of the pool, or of a depot, as its page sends them."""
    form = form_in(client.get(WORK_DAYS))
    names = [name for name in form if name.startswith(f"{owner}.cables_on_")]
    return client.post(WORK_DAYS, form | {names[day]: text for day, text in cables.items()}, follow=True)


def test_the_page_says_what_is_to_be_done_and_names_what_will_not_be_ready(visitor_client, keeper_client, due):
    say(keeper_client, EVERY_DAY)
    due("M-1", 2, (5, 1))
    due("M-2", 3, (0, 2), (2, 1))
    words = words_of(visitor_client.get(CALENDAR))
    assert "5 cables to change in 2 mats" in words and "1 will not be ready in time." in words
    assert "M-2 for Run of M-2" in words and "not at home on a day of work until then" in words
    assert "Monday to Sunday: 8 cables a day." in words
    assert "M-1 2 cables before Run of M-1" in words


def test_the_first_week_that_is_offered_on_paper_is_one_with_work(visitor_client, keeper_client, due):
    say(keeper_client, EVERY_DAY)
    due("M-1", 2, (0, 9), (40, 1))
    page = visitor_client.get(CALENDAR).content.decode()
    offered = re.search(r'href="(/calendar/week/[^"]*)">Print a week', page).group(1)
    assert "M-1" in words_of(visitor_client.get(offered))
    assert "No work is planned for this week." in words_of(visitor_client.get(WEEK))


def test_a_guess_is_called_a_guess_until_a_keeper_says_the_days(visitor_client, keeper_client, due):
    due("M-1")
    assert "Monday to Friday: 8 cables a day, as long as nobody says otherwise: a guess." in words_of(
        visitor_client.get(CALENDAR)
    )
    say(keeper_client, {5: "4"})
    assert "Saturday: 4 cables a day." in words_of(visitor_client.get(CALENDAR))


def test_nothing_due_is_said(visitor_client, today):
    assess_pool(today)
    assert "Nothing falls due within 90 days." in words_of(visitor_client.get(CALENDAR))


def test_days_of_work_are_kept_with_who_and_why_and_assess_nothing_again(keeper_client, due):
    due("M-1")
    depot = make_depot("Quay")
    with CaptureQueriesContext(connection) as asked:
        answer = say(keeper_client, {0: "3"}, f"depot-{depot.pk}")
    assert not any("inspections_assessment" in query["sql"] for query in asked if "INSERT" in query["sql"])
    assert "Saved. The calendar below goes by it." in words_of(answer)
    assert current_policy().value("cables_on_monday", depot_id=depot.pk) == 3
    assert current_policy().value("cables_on_monday") == 8
    trail = words_of(keeper_client.get(WORK_DAYS))
    assert "Cables to change on a Monday of Quay" in trail
    assert "Cables to change" not in words_of(keeper_client.get("/policy/"))


@pytest.mark.parametrize("typed", ["-1", "many", "501", "2.5"])
def test_a_number_of_cables_that_is_none_is_refused_and_kept(keeper_client, typed):
    form = form_in(keeper_client.get(WORK_DAYS))
    answer = keeper_client.post(WORK_DAYS, form | {"pool.cables_on_monday": typed})
    assert answer.status_code == 422
    assert "Cables to change on a Monday" in words_of(answer) and f'value="{typed}"' in answer.content.decode()
    assert not PolicyValue.objects.exists()


def test_a_week_on_paper_has_a_page_for_each_depot_with_its_cables(visitor_client, keeper_client, due, today):
    say(keeper_client, EVERY_DAY)
    due("M-1", 2, depot=make_depot("Quay"))
    due("M-2", 3, depot=make_depot("Mill"))
    page = visitor_client.get(WEEK)
    assert page.content.decode().count('class="week-page"') == 2
    words = words_of(page)
    assert words.index("Mill") < words.index("Quay")
    assert "1.00 m alike: 3" in words and "1.00 m alike: 2" in words
    assert "1, 2, 3" in words
    later = words_of(visitor_client.get(WEEK, {"week": today + timedelta(days=21)}))
    assert "No work is planned for this week." in later
    assert "Mill" not in words_of(visitor_client.get(WEEK, {"depot": "Quay"}))


@pytest.mark.parametrize(
    "asked",
    [{"week": "soon"}, {"week": "9999-99-99"}, {"week": "9999-12-31"}, {"week": "0001-01-01"}, {"depot": "none such"}],
)
def test_what_cannot_be_read_in_the_address_narrows_nothing(visitor_client, due, asked):
    due("M-1")
    for place in (CALENDAR, WEEK):
        assert visitor_client.get(place, asked).status_code == 200


def test_a_bench_hand_raises_the_order_for_the_day_of_the_calendar(bench_client, keeper_client, due, today):
    say(keeper_client, EVERY_DAY)
    due("M-1")
    place = f"/work-orders/raise/?mat=M-1&planned_on={today}"
    assert place.replace("&", "&amp;") in bench_client.get(CALENDAR).content.decode()
    form = form_in(bench_client.get(place), "/work-orders/raise/")
    bench_client.post("/work-orders/raise/", form)
    order = WorkOrder.objects.get()
    assert order.planned_on == today
    assert order.number in words_of(bench_client.get(CALENDAR))


def test_an_order_without_a_day_is_given_the_day_of_the_calendar(bench_client, keeper_client, due, today):
    say(keeper_client, EVERY_DAY)
    due("M-1")
    form = form_in(bench_client.get("/work-orders/raise/?mat=M-1&planned_on=soon"), "/work-orders/raise/")
    bench_client.post("/work-orders/raise/", form)
    order = WorkOrder.objects.get()
    assert order.planned_on is None
    place = f"/work-orders/{order}/give/?planned_on={today}"
    assert place in bench_client.get(CALENDAR).content.decode()
    answer = bench_client.get(place)
    assert f'value="{today}"' in answer.content.decode()


def test_queries_of_the_page_do_not_grow_with_mats(visitor_client, due):
    due("M-1", 2, (4, 1))
    visitor_client.get(CALENDAR)
    with CaptureQueriesContext(connection) as few:
        visitor_client.get(CALENDAR)
    for number in range(2, 7):
        due(f"M-{number}", 2, (number, 1))
    visitor_client.get(CALENDAR)
    with CaptureQueriesContext(connection) as many:
        visitor_client.get(CALENDAR)
    assert len(many) == len(few)
