"""The due list through HTTP: what stands on it, how it is narrowed, what its file holds, what the bar does."""

import csv
import io
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import (
    fit,
    make_depot,
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
from inspections.models import PolicyValue, WorkOrder, WorkOrderLine
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
URL = "/due/?by=cable"


def days_ago(today, days):
    return today - timedelta(days=days)


def make_cable(mat, position, today, serial, *, age_days=100, **values):
    segment = make_segment(serial=serial, **values)
    fit(segment, mat, position, days_ago(today, age_days))
    return segment


@pytest.fixture
def pool(today):
    """One cable for each status, in two mats. One comparable reading in all, so that nothing is due by a trend."""
    first = make_mat("M-001", depot=make_depot("Quay Street"), owner="Fen Runners")
    second = make_mat("M-002", depot=make_depot("Upper Mill"), owner="Mill Lane Club")
    make_usage_event(first, make_event(today + timedelta(days=20), name="Fen Half"), "planned")
    over = make_cable(first, 1, today, "C-OVER", length_m=0.6)
    make_reading(over, None, days_ago(today, 10))
    before = make_cable(first, 2, today, "C-BEFORE", age_days=1085, length_m=1.1)
    make_reading(before, 1.0, days_ago(today, 10), temperature_c=20)
    make_cable(second, 1, today, "C-SOON", age_days=1050, length_m=1.6)
    make_cable(second, 2, today, "C-MEASURE", age_days=500, length_m=2.1)
    make_cable(second, 3, today, "C-OK", length_m=2.1)
    unknown = make_segment(serial="C-UNKNOWN", length_m=2.6)
    fit(unknown, second, 4, days_ago(today, 30), fitted_basis="not later than")
    return first, second


def serials(response):
    return re.findall(r'class="row-link strong" href="[^"]*">([^<]+)<', response.content.decode())


def text_of(response):
    return words_in(response.content.decode())


def test_rows_stand_by_urgency_and_those_that_are_ok_are_left_out(visitor_client, pool):
    response = visitor_client.get(URL)
    assert serials(response) == ["C-OVER", "C-BEFORE", "C-SOON", "C-MEASURE", "C-UNKNOWN"]
    assert "5 of 6 cables" in text_of(response)


def test_readings_that_came_after_the_fit_are_said_to_be_missing_in_the_pools_trend(visitor_client, pool, today):
    assess_pool(today)
    assert "newer than" not in text_of(visitor_client.get(URL))
    make_reading(make_segment(), 1.0, days_ago(today, 1))
    make_reading(make_segment(), 1.0, days_ago(today, 1))
    assert "2 readings are newer than the pool’s trend" in text_of(visitor_client.get(URL))


def test_each_row_says_why_with_number_and_limit_and_opens_all_causes(visitor_client, pool, today):
    text = text_of(visitor_client.get(URL))
    measured = f"{days_ago(today, 10):%-d %b %Y}"
    assert f"no signal on {measured}: open or broken" in text
    assert f"Loss: 1.00 dB measured on {measured}, limit 3 dB" in text
    assert "change before an event" in text and "Fen Half" in text
    assert "Events: 0 of 150 events, no date: the mat did not go out in the last year" in text
    assert "Gradual wear only: no forecast covers a crushed cable or a torn connector." in text


def test_the_lead_counts_by_status(visitor_client, pool):
    counts = "1 to change now 1 before an event 1 within the look-ahead 1 to measure 1 unknown 5 of 6 cables"
    assert counts in text_of(visitor_client.get(URL))


def test_each_count_leads_to_its_cables_and_the_filters_narrow_the_counts_too(visitor_client, pool):
    page = visitor_client.get(f"{URL}&depot=Upper+Mill").content.decode()
    assert "1 within the look-ahead 1 to measure 1 unknown 3 of 6 cables" in words_in(page)
    measure = re.search(r'href="([^"]*status=measure[^"]*)"', page).group(1).replace("&amp;", "&")
    assert serials(visitor_client.get(f"/due/{measure}")) == ["C-MEASURE"]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("depot=Quay+Street", ["C-OVER", "C-BEFORE"]),
        ("owner=Fen+Runners", ["C-OVER", "C-BEFORE"]),
        ("cause=loss", ["C-OVER"]),
        ("status=measure", ["C-MEASURE"]),
        ("status=ok", ["C-OK"]),
        ("status=all", ["C-OVER", "C-BEFORE", "C-SOON", "C-MEASURE", "C-UNKNOWN", "C-OK"]),
        ("lengths=1.1", ["C-BEFORE"]),
        ("lengths=1,1+1.6+m", ["C-BEFORE", "C-SOON"]),
        ("lengths=1.5-2.2", ["C-SOON", "C-MEASURE"]),
        ("within=0", ["C-OVER"]),
        ("within=30", ["C-OVER", "C-BEFORE"]),
        ("within=2000&status=ok", ["C-OK"]),
        ("status=change+now&depot=Upper+Mill", []),
    ],
)
def test_filters_narrow_the_list(visitor_client, pool, query, found):
    assert serials(visitor_client.get(f"{URL}&{query}")) == found


def test_the_list_reaches_up_to_a_named_day(visitor_client, pool, today):
    day = today + timedelta(days=30)
    assert serials(visitor_client.get(f"{URL}&until={day.isoformat()}")) == ["C-OVER", "C-BEFORE"]


@pytest.mark.parametrize("query", ["within=many", "until=31", "lengths=long", "status=rotten", "depot=Nowhere"])
def test_a_filter_that_cannot_be_read_is_named_and_narrows_nothing(visitor_client, pool, query):
    response = visitor_client.get(f"{URL}&{query}")
    assert response.content.decode().count('class="field-error"') == 1
    assert len(serials(response)) == 5


@pytest.mark.parametrize("query", ["page=x", "page=99", "sort=rotten", "nonsense=1"])
def test_an_address_that_asks_for_nonsense_shows_the_list(visitor_client, pool, query):
    assert len(serials(visitor_client.get(f"{URL}&{query}"))) == 5


def test_the_folded_line_of_filters_says_what_is_chosen(visitor_client, pool):
    page = visitor_client.get(f"{URL}&depot=Quay+Street&lengths=1.1&within=30").content.decode()
    assert "<summary>Filters: Quay Street · 1.1 m · within 30 days</summary>" in page


def test_what_was_typed_in_a_filter_stays(visitor_client, pool):
    assert 'value="around 2"' in visitor_client.get(f"{URL}&lengths=around+2").content.decode()


@pytest.mark.parametrize(
    ("sort", "found"),
    [
        ("segment", ["C-BEFORE", "C-MEASURE", "C-OVER", "C-SOON", "C-UNKNOWN"]),
        ("-length_m", ["C-UNKNOWN", "C-MEASURE", "C-SOON", "C-BEFORE", "C-OVER"]),
        ("-loss", ["C-BEFORE", "C-OVER", "C-SOON", "C-MEASURE", "C-UNKNOWN"]),
        ("loss", ["C-BEFORE", "C-OVER", "C-SOON", "C-MEASURE", "C-UNKNOWN"]),
        ("-mat", ["C-UNKNOWN", "C-MEASURE", "C-SOON", "C-BEFORE", "C-OVER"]),
        ("needed", ["C-OVER", "C-BEFORE", "C-SOON", "C-MEASURE", "C-UNKNOWN"]),
    ],
)
def test_rows_sort_by_a_column_and_those_without_a_value_stand_last(visitor_client, pool, sort, found):
    assert serials(visitor_client.get(f"{URL}&sort={sort}")) == found


def test_fifty_rows_stand_on_a_page(visitor_client, today):
    design = make_design(lengths_m=[round(0.1 * n, 1) for n in range(1, 52)])
    make_mat(design=design, fitted=True, fitted_on=days_ago(today, 1200))
    assert len(serials(visitor_client.get(URL))) == 50
    assert len(serials(visitor_client.get(f"{URL}&page=2"))) == 1


def test_queries_do_not_grow_with_rows(visitor_client, today):
    design = make_design(lengths_m=[0.6])
    PolicyValue.objects.create(setting="age_limit_years", value=1)

    def queries_with(more):
        for _ in range(more):
            mat = make_mat(design=design, fitted=True, fitted_on=days_ago(today, 400))
            make_usage_event(mat, make_event(today + timedelta(days=5)), "planned")
        assess_pool(today)
        with CaptureQueriesContext(connection) as captured:
            rows = len(serials(visitor_client.get(URL)))
        return rows, len(captured)

    (_, asked), *others = map(queries_with, (1, 2, 47))
    assert others == [(3, asked), (50, asked)]


def test_an_empty_pool_says_what_to_do_first(visitor_client, db):
    assert "No cable is fitted in a mat yet." in text_of(visitor_client.get(URL))


def rows_of_file(client, query=""):
    response = client.get(f"/due.csv{query}")
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode())))


def test_the_file_holds_bare_numbers_under_the_same_filters(visitor_client, pool, today):
    rows = rows_of_file(visitor_client, "?cause=loss")
    assert len(rows) == 1
    wanted = {
        "segment": "C-OVER",
        "mat": "M-001",
        "position": "1",
        "length_m": "0.6",
        "depot": "Quay Street",
        "status": "change now",
        "cause": "loss",
        "due_on": days_ago(today, 10).isoformat(),
        "reference_loss_db": "",
        "loss_limit_db": "3.0",
        "event_limit": "150",
        "next_event_starts_on": (today + timedelta(days=20)).isoformat(),
        "damage_due_on": "",
        "no_signal": "yes",
    }
    assert {name: rows[0][name] for name in wanted} == wanted
    assert [row["reference_loss_db"] for row in rows_of_file(visitor_client, "?lengths=1.1")] == ["1.0"]


def test_the_file_has_every_row_whatever_the_page(visitor_client, today):
    design = make_design(lengths_m=[round(0.1 * n, 1) for n in range(1, 52)])
    make_mat(design=design, fitted=True, fitted_on=days_ago(today, 1200))
    assert len(rows_of_file(visitor_client)) == 51


@pytest.mark.parametrize("serial", ["=1+1", "+C", "-C", "@C", "'C"])
def test_a_spreadsheet_runs_nothing_from_the_file(visitor_client, today, serial):
    make_cable(make_mat(), 1, today, serial, age_days=1200)
    assert [row["segment"] for row in rows_of_file(visitor_client)] == [f"'{serial}"]


def choose(client, *serials, **values):
    page = client.get(URL).content.decode()
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    return client.post(reverse("inspections:work-order-raise"), {"token": token, "segments": serials, **values})


def test_chosen_rows_become_one_order_a_mat(bench_client, pool):
    response = choose(bench_client, "C-OVER", "C-SOON")
    assert response.url == "/work-orders/"
    lines = WorkOrder.objects.order_by("number").values_list("mat__number", "lines__segment__serial")
    assert list(lines) == [("M-001", "C-OVER"), ("M-002", "C-SOON")]


def test_a_single_order_opens_at_once(bench_client, pool):
    assert choose(bench_client, "C-OVER").url == WorkOrder.objects.get().get_absolute_url()


def test_whole_mats_take_all_that_is_due_in_them_and_no_more(bench_client, pool):
    choose(bench_client, "C-SOON", whole_mats="on")
    choose(bench_client, "C-OVER", whole_mats="on")
    lines = WorkOrderLine.objects.order_by("work_order__number", "position")
    assert list(lines.values_list("segment__serial", flat=True)) == ["C-SOON", "C-OVER", "C-BEFORE"]


def test_the_same_form_sent_twice_raises_one_order(bench_client, pool):
    page = bench_client.get(URL).content.decode()
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    sent = {"token": token, "segments": ["C-OVER"]}
    first, second = (bench_client.post("/work-orders/raise/", sent) for _ in range(2))
    assert first.url == second.url
    assert WorkOrder.objects.count() == 1


def test_a_refused_choice_comes_back_with_its_ticks(bench_client, pool, keeper, today):
    over = pool[0].fittings.get(position=1).segment
    order = raise_work_orders([over.pk], by=keeper, on=today)[0]
    response = choose(bench_client, "C-OVER", "C-BEFORE")
    page = response.content.decode()
    assert response.status_code == 422
    assert f"C-OVER is on open work order {order} already." in page
    assert re.findall(r'value="(C-\w+)"\s+data-mat="M-001" checked', page) == ["C-BEFORE"]
    assert WorkOrder.objects.count() == 1


@pytest.mark.parametrize("chosen", [[], ["C-NONE"]])
def test_nothing_chosen_and_unknown_cables_are_refused_with_a_sentence(bench_client, pool, chosen):
    response = choose(bench_client, *chosen)
    assert response.status_code == 422
    assert ("Choose at least one cable." if not chosen else "There is no cable C-NONE.") in response.content.decode()


def test_a_row_on_an_order_names_it_and_cannot_be_chosen_again(bench_client, pool, keeper, today):
    over = pool[0].fittings.get(position=1).segment
    order = raise_work_orders([over.pk], by=keeper, on=today)[0]
    page = bench_client.get(URL).content.decode()
    assert f">on {order}</a>" in page
    assert 'value="C-OVER"' not in page and 'value="C-BEFORE"' in page


def test_a_visitor_may_look_and_not_raise(visitor_client, pool):
    assert 'name="segments"' not in visitor_client.get(URL).content.decode()
    assert visitor_client.post("/work-orders/raise/", {"segments": ["C-OVER"]}).status_code == 403


def test_damage_is_told_with_its_place(visitor_client, pool, today):
    make_fault(pool[1], "connector", 3, reported_on=days_ago(today, 2))
    assess_pool(today)
    assert f"connector fault reported on {days_ago(today, 2):%-d %b %Y}" in text_of(visitor_client.get(URL))
