"""The due list by mat: a line for the cables of a mat that are due alike, opened to its cables, chosen as a whole."""

import re
from datetime import timedelta

import pytest
from dateutil.relativedelta import relativedelta
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_design,
    make_event,
    make_fault,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.due.line_selectors import due_lines, lines_of
from inspections.due.selectors import due_list
from inspections.models import WorkOrder, WorkOrderLine
from inspections.templatetags.due_text import positions_in_short
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
OLD_DAYS = 1200


@pytest.fixture
def pool(today):
    """M-001: five alike by age, one of them on its own with a crushed cable; M-002: one to be measured, one OK."""
    first, second = make_mat("M-001", design=make_design()), make_mat("M-002")
    for position in (1, 2, 3, 4):
        fit(make_segment(serial=f"C-{position}"), first, position, today - timedelta(OLD_DAYS))
    make_fault(first, "cable", 2, reported_on=today - timedelta(3))
    make_reading(first.fittings.get(position=3).segment, 1.25, today - timedelta(9), temperature_c=20)
    fit(make_segment(serial="C-MEASURE"), second, 1, today - timedelta(500))
    fit(make_segment(serial="C-OK"), second, 2, today - timedelta(100))
    assess_pool(today)
    return first, second


def rows(client, query=""):
    """The lines in words, without the cables that they open to."""
    page = re.sub(r"(?s)<ul class=\"line-cables\">.*?</details>", "", client.get(f"/due/{query}").content.decode())
    return [words_in(row) for row in re.findall(r"(?s)<tr role=\"row\">(?:(?!</tr>).)*</tr>", page)[1:]]


def test_cables_due_alike_are_one_line_with_short_positions_and_the_worst_loss(visitor_client, pool, today):
    due = f"{today - timedelta(OLD_DAYS) + relativedelta(years=3):%-d %b %Y}"
    fault = f"cable fault, reported {today - timedelta(3):%-d %b %Y}"
    crushed, old, measure = rows(visitor_client)
    assert crushed == f"M-001 · 2 1 {fault} · also by age · no event recorded {due} none planned not measured"
    assert old == f"M-001 · 1, 3, 4 3 age limit of 3 years · no event recorded {due} none planned 1.25"
    assert measure.startswith("M-002 · 1 1 not measured · no event recorded")


def test_each_status_is_a_heading_that_counts_its_cables_and_mats(visitor_client, pool):
    heads = re.findall(r'(?s)<tr role="row" class="group-head">.*?</tr>', visitor_client.get("/due/").content.decode())
    assert [words_in(head) for head in heads] == [
        "change now 4 cables in 1 mat : 1 broken or over, 3 by age or events alone",
        "measure 1 cable in 1 mat",
    ]


@pytest.mark.parametrize(
    ("positions", "words"),
    [([4], "4"), ([1, 2], "1, 2"), ([1, 2, 3], "1–3"), ([1, 2, 3, 4, 6, 8, 9], "1–4, 6, 8, 9")],
)
def test_positions_are_said_in_short(positions, words):
    class Line:
        rows = [type("Row", (), {"position": position}) for position in positions]

    assert positions_in_short(Line) == words


def test_every_cable_of_the_list_is_on_one_line_alone_with_what_it_shares(pool, today):
    shared = list(due_lines(due_list()))
    lines = lines_of(shared, due_list(), today)
    assert [len(line.rows) for line in lines] == [line["cables"] for line in shared]
    on_lines = sorted(row.pk for line in lines for row in line.rows)
    assert on_lines == sorted(due_list().values_list("pk", flat=True))


def test_the_event_that_decides_stands_once_with_its_day(visitor_client, today):
    """Another event comes first: it is named nowhere, since the cable lasts until it."""
    mat = make_mat("M-003")
    fit(make_segment(), mat, 1, today - timedelta(3 * 365 - 40))
    make_usage_event(mat, make_event(today + timedelta(5), name="Sooner Run"), "planned")
    make_usage_event(mat, make_event(today + timedelta(60), name="Later Run"), "planned")
    assess_pool(today)
    for address in ("/due/", "/due/?by=cable"):
        words = words_in(visitor_client.get(address).content.decode())
        assert f"Later Run {today + timedelta(60):%-d %b %Y}" in words
        assert "Sooner Run" not in words


def test_queries_do_not_grow_with_lines_and_fifty_stand_on_a_page(keeper_client, today):
    design = make_design(lengths_m=[0.6, 1.1])

    def asked_with(more):
        for _ in range(more):
            mat = make_mat(design=design, fitted=True, fitted_on=today - timedelta(OLD_DAYS))
            make_usage_event(mat, make_event(today + timedelta(5)), "planned")
        assess_pool(today)
        with CaptureQueriesContext(connection) as captured:
            lines = len(rows(keeper_client))
        return lines, len(captured)

    (_, asked), *others = map(asked_with, (1, 2, 48))
    assert others == [(3, asked), (50, asked)]
    assert len(rows(keeper_client, "?page=2")) == 1


def send(client, address="/due/", **values):
    token = re.search(r'name="token" value="([^"]+)"', client.get(address).content.decode()).group(1)
    return client.post("/work-orders/raise/", {"token": token, **values})


def lines_on_page(client):
    return re.findall(r'name="lines" value="([^"]+)"', client.get("/due/").content.decode())


def test_without_a_script_the_tick_of_a_line_takes_all_its_cables(bench_client, pool):
    crushed, old, _measure = lines_on_page(bench_client)
    send(bench_client, lines=[old], segments=["C-MEASURE"])
    lines = WorkOrderLine.objects.order_by("work_order__number", "position")
    assert list(lines.values_list("segment__serial", flat=True)) == ["C-1", "C-3", "C-4", "C-MEASURE"]
    assert crushed == "C-2"


def test_of_a_line_only_what_is_on_no_order_can_be_chosen(bench_client, pool, keeper, today):
    order = raise_work_orders([pool[0].fittings.get(position=3).segment_id], by=keeper, on=today)[0]
    assert "C-1/C-4" in lines_on_page(bench_client)
    assert f">on {order}</a>" in bench_client.get("/due/").content.decode()


def test_an_unknown_cable_of_a_line_is_named_and_nothing_is_raised(bench_client, pool):
    answer = send(bench_client, lines=["C-1/C-NONE"])
    assert answer.status_code == 422
    assert "There is no cable C-NONE." in answer.content.decode()
    assert not WorkOrder.objects.exists()


def test_enter_in_a_box_reaches_a_page_that_raises_nothing(bench_client, pool):
    """A browser presses the first button of a form then."""
    form = bench_client.get("/due/").content.decode().split("data-choose", 1)[1]
    assert re.search(r"<button[^>]*>", form).group().count('name="look" value="1"') == 1
    answer = send(bench_client, lines=["C-1/C-3"], look="1")
    assert answer.url == "/work-orders/raise/?cable=C-1&cable=C-3"
    assert not WorkOrder.objects.exists()
