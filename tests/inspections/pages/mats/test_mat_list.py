"""The list of mats: how each stands and why, the unfit first, with a mark for each of its positions."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    make_due_mat,
    make_event,
    make_fault,
    make_mat,
    make_plain_design,
    make_plain_mat,
    make_usage_event,
)
from page_words import words_in

from fleet.models import Mat
from fleet.selectors.unfit import unfit_by
from inspections.assessment.condition_selectors import MatStatuses
from inspections.assessment.services import assess_pool
from inspections.models import Assessment
from inspections.numeric.words import Status

pytestmark = pytest.mark.django_db


def rows_of(client, **query):
    """[cells in words] of each row of the page."""
    body = client.get("/mats/", query).content.decode().partition("<tbody")[2].partition("</tbody>")[0]
    rows = re.findall(r"<tr.*?</tr>", body, re.DOTALL)
    return [[words_in(cell) for cell in re.findall(r"<td.*?</td>", row, re.DOTALL)] for row in rows]


def listed(client, **query):
    """[(mat, status, why)] as the page shows them."""
    return [tuple(row[:3]) for row in rows_of(client, **query)]


def numbers(client, **query):
    return [re.search(r"M-\w+", mat)[0] for mat, _, _ in listed(client, **query)]


@pytest.fixture
def fleet(today):
    """One mat of each kind: damaged, aged, to be changed within the look-ahead, and two of which nothing is due."""
    soon = date(today.year - 3, today.month, min(today.day, 28)) + timedelta(days=40)
    make_plain_mat(make_plain_design(4), number="M-ok", fitted=True, fitted_on=today)
    make_plain_mat(make_plain_design(2), number="M-soon", fitted=True, fitted_on=soon)
    make_plain_mat(make_plain_design(3), number="M-aged", fitted=True, fitted_on=today - timedelta(days=2000))
    torn = make_plain_mat(make_plain_design(4), number="M-torn", fitted=True, fitted_on=today)
    make_fault(torn, "cover or fold", None, reported_on=today)
    make_plain_mat(make_plain_design(4), number="M-also", fitted=True, fitted_on=today)
    Mat.objects.get(number="M-torn").fittings.filter(position=3).update(removed_on=today)
    assess_pool(today)
    return today


def test_the_unfit_stand_first_each_with_its_reason_in_short(visitor_client, fleet):
    first, second, third, *rest = listed(visitor_client)
    assert [each[1:] for each in (first, second, third)] == [
        ("should not go", "3 cables due"),
        ("should not go", "cover or fold damaged, empty position 3"),
        ("change soon", "2 cables within 90 days"),
    ]
    assert {status for _, status, _ in rest} == {"OK"} and {why for _, _, why in rest} == {""}


def test_each_position_has_its_mark_and_is_said_aloud(visitor_client, fleet):
    page = visitor_client.get("/mats/", {"find": "M-torn"}).content.decode()
    strip = re.search(r'<svg class="strip".*?</svg>', page, re.DOTALL)[0]
    assert re.findall(r'<use class="([\w-]+)"', strip) == ["ok", "ok", "empty", "ok"]
    assert 'aria-label="3 empty; 1–2, 4 ok"' in strip


def test_the_counts_lead_to_as_many_mats(visitor_client, fleet):
    counts = visitor_client.get("/mats/").context["counts"]
    assert sum(counts.values()) == 5
    for status, mats in counts.items():
        assert len(listed(visitor_client, status=status)) == mats, status


def test_a_day_ahead_says_which_mats_are_fit_by_then(visitor_client, fleet):
    assert numbers(visitor_client, status=Status.CHANGE_NOW) == ["M-aged", "M-torn"]
    later = (fleet + timedelta(days=60)).isoformat()
    assert numbers(visitor_client, status=Status.CHANGE_NOW, day=later) == ["M-aged", "M-soon", "M-torn"]


@pytest.mark.parametrize(
    ("day", "says"), [("yesterday", "a day that the calendar has"), ("2020-01-01", "or a day ahead")]
)
def test_a_day_that_cannot_be_asked_about_is_said_and_today_is_shown(visitor_client, fleet, day, says):
    answer = visitor_client.get("/mats/", {"day": day})
    assert answer.status_code == 200 and says in words_in(answer.content.decode())
    assert answer.context["day"] == fleet


def test_a_mat_says_the_same_here_and_wherever_mats_are_ticked(fleet):
    for day in (fleet, fleet + timedelta(days=60)):
        statuses = MatStatuses(Mat.objects.all(), day)
        conditions = statuses.conditions(list(statuses.of), fleet)
        ticked = unfit_by(Mat.objects.all(), day, on=fleet)
        assert {mat: str(each.unfit) for mat, each in conditions.items() if each.unfit} == {
            mat: str(why) for mat, why in ticked.items()
        }
        assert len(ticked) >= 2


def test_what_is_to_be_changed_before_an_event_names_it(visitor_client, today):
    mat = make_due_mat(2, today)
    make_usage_event(mat, make_event(today + timedelta(days=30), name="Mill Hill run"), state="planned")
    assess_pool(today)
    Assessment.objects.update(urgency=Status.CHANGE_BEFORE.order, due_on=today + timedelta(days=20))
    assert listed(visitor_client)[0][1:] == ("change before an event", "2 cables before Mill Hill run")
    assert rows_of(visitor_client)[0][5].startswith("Mill Hill run")
    by_then = listed(visitor_client, day=(today + timedelta(days=30)).isoformat())
    assert by_then[0][1:] == ("should not go", "2 cables due"), "and none of them twice"


def test_a_mat_without_cables_is_held_and_a_withdrawn_one_has_no_status(visitor_client, today):
    make_mat("M-none")
    make_mat("M-gone", fitted=True, withdrawn_on=today)
    assert listed(visitor_client)[0][1:] == ("should not go", "4 empty positions")
    assert listed(visitor_client, state="withdrawn")[0][1:] == ("", "")


@pytest.mark.parametrize("order", ["number", "-number", "condition", "first_due_on", "-next_starts_on", "design"])
def test_every_column_that_sorts_does(visitor_client, fleet, order):
    assert len(numbers(visitor_client, sort=order)) == 5


def test_the_queries_do_not_grow_with_the_mats(visitor_client, fleet):
    visitor_client.get("/mats/")
    with CaptureQueriesContext(
        connection,
    ) as few:
        visitor_client.get("/mats/")
    for _ in range(12):
        make_plain_mat(make_plain_design(3), fitted=True, fitted_on=fleet - timedelta(days=2000))
    assess_pool(fleet)
    with CaptureQueriesContext(connection) as many:
        assert len(listed(visitor_client)) == 17
    assert len(many) == len(few)
