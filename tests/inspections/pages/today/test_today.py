"""The first page: one sentence that counts, then only the lists that ask for something."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_depot,
    make_design,
    make_event,
    make_fault,
    make_mat,
    make_segment,
    make_series,
    make_usage_event,
)
from page_words import words_in

from fleet.models import Mat
from inspections.assessment.services import assess_pool
from inspections.models import Assessment
from inspections.numeric.words import Status
from inspections.workshop.services import raise_work_orders, renew_work_order, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db


def text_of(response):
    return words_in(response.content.decode())


def lead_of(client):
    page = client.get("/").content.decode()
    return words_in(re.search(r'<p class="lead">(.*?)</p>', page, re.S).group(1))


def headings_of(client):
    return re.findall(r"<h2[^>]*>([^<]+)</h2>", client.get("/").content.decode().partition("<main")[2])


@pytest.fixture
def sound_mat(today):
    return make_mat("M-100", fitted=True, fitted_on=today - timedelta(days=100))


def test_an_empty_pool_says_what_to_do_first(keeper_client):
    text = text_of(keeper_client.get("/"))
    assert "This pool has no mats yet." in text
    assert "Start here" in text and "Load files" in text


def test_a_design_without_a_mat_is_still_a_beginning(keeper_client):
    make_design()
    assert "Start here" in text_of(keeper_client.get("/"))


def test_nothing_to_do_says_so_and_shows_the_next_event(visitor_client, sound_mat, today):
    make_usage_event(sound_mat, make_event(today + timedelta(days=30), name="Fen Half"), "planned")
    assert lead_of(visitor_client) == "Nothing needs doing today."
    assert headings_of(visitor_client) == ["Next event"]
    assert "Fen Half" in text_of(visitor_client.get("/"))


def test_nothing_to_do_and_nothing_planned(visitor_client, sound_mat):
    assert lead_of(visitor_client) == "Nothing needs doing today. No event is planned."


def test_the_sentence_counts_and_names_the_day_of_the_soonest_event(visitor_client, today):
    saturday = today + timedelta(days=3)
    worn = {"design": make_design(lengths_m=[0.6, 1.1]), "fitted": True, "fitted_on": today - timedelta(days=1200)}
    make_usage_event(make_mat("M-001", **worn), make_event(saturday), "planned")
    make_usage_event(make_mat("M-002", **worn), make_event(today - timedelta(days=2)), "planned")
    assert lead_of(visitor_client) == (
        f"4 cables to change, 2 of them before {saturday:%A}; 1 event to be confirmed; "
        "1 event with mats that are not fit to go. To change now: 4 by age or events alone."
    )


def test_each_mat_to_change_offers_its_work_order(bench_client, today):
    make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    response = bench_client.get("/")
    assert "M-001 4 cables change now" in text_of(response)
    assert 'href="/work-orders/raise/?mat=M-001"' in response.content.decode()


def test_a_mat_says_how_many_cables_are_to_be_changed_now_as_its_own_page_does(visitor_client, today):
    """And apart from these how many before an event: never all of them under the word of the first."""
    mat = make_mat("M-001", fitted=True, fitted_on=today)
    mat.fittings.filter(position__lte=2).update(fitted_on=today - timedelta(days=2000))
    make_usage_event(mat, make_event(today + timedelta(days=40), name="Far Run"), "planned")
    assess_pool(today)
    due_on = {"due_on": today + timedelta(days=30), "urgency": Status.CHANGE_BEFORE.order}
    Assessment.objects.filter(mat=mat, position=3).update(before_event=mat.usage_events.get().event, **due_on)
    on_today, on_its_page = (text_of(visitor_client.get(page)) for page in ("/", mat.get_absolute_url()))
    assert "M-001 2 cables change now · 1 cable change before Far Run" in on_today
    assert "2 cables to change now" in on_its_page


def test_the_counts_of_mats_equal_those_of_the_list_they_lead_to(visitor_client, sound_mat, today):
    make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    make_mat("M-002")
    page = visitor_client.get("/").content.decode()
    links = re.findall(r'href="(/mats/\?status=[^"]+)"[^>]*>.*?</svg>(\d+)', page, re.S)
    assert len(links) >= 2
    for place, mats in links:
        assert len(visitor_client.get(place).context["table"].rows) == int(mats), place


def test_a_mat_whose_cables_are_on_an_order_points_to_it(bench_client, keeper, today):
    mat = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    order = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=keeper, on=today)[0]
    response = bench_client.get("/")
    assert f"On {order}" in text_of(response)
    assert "/work-orders/raise/" not in response.content.decode()


def test_a_single_cable_is_named_with_position_and_cause(visitor_client, sound_mat, today):
    make_fault(sound_mat, "connector", 2, reported_on=today)
    serial = sound_mat.fittings.get(position=2).segment.serial
    assert f"{serial} in M-100 · 2 connector fault reported on {today:%-d %b %Y}" in text_of(visitor_client.get("/"))


def test_mats_held_back_by_a_fault_or_an_empty_position_are_listed(bench_client, sound_mat, today):
    fault = make_fault(sound_mat, "cover or fold", None, reported_on=today, what="zip torn")
    half = make_mat("M-101", design=make_design(lengths_m=[0.6, 1.1, 1.6]))
    fit(make_segment(), half, 2, today - timedelta(days=50))
    response = bench_client.get("/")
    assert headings_of(bench_client) == ["On hold"]
    assert lead_of(bench_client) == "2 mats on hold."
    assert f"cover or fold since {today:%-d %b %Y}: zip torn Close the fault" in text_of(response)
    assert f"/faults/{fault.pk}/end/" in response.content.decode()
    assert "M-101 positions 1, 3 hold no cable" in text_of(response)


def test_a_repaired_fault_and_a_withdrawn_mat_hold_nothing_back(visitor_client, sound_mat, today):
    make_fault(sound_mat, "cover or fold", None, today - timedelta(days=3), ended_on=today, end_reason="repair")
    make_mat("M-102", withdrawn_on=today)
    assert headings_of(visitor_client) == []


def going_section(client):
    text = text_of(client.get("/"))
    return text[text.index("Not fit for a planned event") : text.index("Next event")]


def test_events_name_the_mats_that_should_not_go_and_why_however_far_ahead(visitor_client, sound_mat, today):
    soon = make_event(today + timedelta(days=5), name="Fen Half")
    far = make_event(today + timedelta(days=40), name="Far Run")
    worn = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    for event in (soon, far):
        for mat in (sound_mat, worn):
            make_usage_event(mat, event, "planned")
    section = going_section(visitor_client)
    assert re.search(r"Fen Half .*? M-001: 4 cables due Far Run .*? M-001: 4 cables due", section)
    assert "M-100" not in section
    assert "2 events with mats that are not fit to go" in lead_of(visitor_client)


def test_weeks_of_a_series_stand_in_one_line_and_are_all_counted(visitor_client, sound_mat, today):
    series = make_series(today + timedelta(days=2))
    worn = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    for week in range(13):
        event = make_event(today + timedelta(days=2 + 7 * week), name="Canal Run", series=series)
        make_usage_event(worn, event, "planned")
    loan = make_event(today + timedelta(days=60), days=90, name="Winter Loan")
    make_usage_event(worn, loan, "planned")
    section = going_section(visitor_client)
    assert section.count("Canal Run") == 1 and "and 12 later weeks of the series" in section
    assert "Winter Loan" in section
    assert "14 events with mats that are not fit to go" in lead_of(visitor_client)


def test_what_is_not_shown_of_the_events_is_counted(visitor_client, today):
    worn = [make_mat(fitted=True, fitted_on=today - timedelta(days=1200)) for _ in range(7)]
    for days in range(7):
        event = make_event(today + timedelta(days=5 + days))
        for mat in worn:
            make_usage_event(mat, event, "planned")
    section = going_section(visitor_client)
    assert section.count("4 cables due") == 25
    assert section.count("and 2 more mats") == 5 and "2 more in the list of planned events" in section


def test_what_is_wanted_first_stands_first_of_what_is_to_be_changed_now(visitor_client, today):
    """However far ahead both are."""
    design = make_design(lengths_m=[0.6])
    for number, days in (("K1", 150), ("K2", 20), ("K3", None)):
        mat = make_mat(number, design=design, fitted=True, fitted_on=today - timedelta(days=3000 if days else 9000))
        if days:
            make_usage_event(mat, make_event(today + timedelta(days=days)), "planned")
    make_fault(Mat.objects.get(number="K1"), "connector", 1, reported_on=today)
    assess_pool(today)
    words = text_of(visitor_client.get("/")).split("Change these cables")[1]
    assert sorted(("K1", "K2", "K3"), key=words.index) == ["K2", "K1", "K3"]


def test_mats_that_ask_for_a_measurement_lead_to_the_bench(bench_client, today):
    make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=500))
    response = bench_client.get("/")
    assert headings_of(bench_client) == ["Measure"]
    assert "not measured" in text_of(response)
    assert 'href="/bench/M-001/"' in response.content.decode()


def test_long_lists_show_five_and_say_how_many_more(visitor_client, today):
    design = make_design(lengths_m=[0.6])
    for _ in range(7):
        make_mat(design=design, fitted=True, fitted_on=today - timedelta(days=1200))
    assert "2 more mats in the due list" in text_of(visitor_client.get("/"))


def order_for(mat, day, **given):
    return raise_work_orders(mat.fittings.values_list("segment", flat=True), by=None, on=day, **given)[0]


def orders_on(client):
    page = client.get("/").content.decode()
    return re.findall(r'<a class="strong" href="/work-orders/[^"]+/">([^<]+)</a>', page)


def test_orders_planned_by_today_and_those_out_of_date_wait_until_they_are_answered(bench_client, keeper, today):
    mats = [make_mat(fitted=True, fitted_on=today - timedelta(days=100)) for _ in range(4)]
    late = order_for(mats[0], today - timedelta(days=3), given_to="Odo", planned_on=today - timedelta(days=1))
    now = order_for(mats[1], today, planned_on=today)
    order_for(mats[2], today, planned_on=today + timedelta(days=1))
    old = order_for(mats[3], today - timedelta(days=31))
    assert orders_on(bench_client) == [late.number, now.number, old.number]
    text = text_of(bench_client.get("/"))
    assert "3 work orders to see to." in lead_of(bench_client)
    assert f"planned for {today - timedelta(days=1):%-d %b %Y}, given to Odo · 0 of 4 cables told" in text
    assert f"out of date since {today - timedelta(days=1):%-d %b %Y}" in text
    withdraw_work_order(late, by=keeper, on=today, reason="wrong mat")
    renew_work_order(old, by=keeper, on=today)
    left = dict.fromkeys(range(1, 5), "no cable on the shelf")
    answer_order(now, by=keeper, on=today, changed_on=today, left=left)
    assert orders_on(bench_client) == []


def test_without_orders_to_see_to_there_is_no_word_of_them(bench_client, sound_mat, today):
    order_for(sound_mat, today)
    assert lead_of(bench_client) == "Nothing needs doing today. No event is planned."


def test_a_visitor_is_offered_nothing_to_do(visitor_client, sound_mat, today):
    worn = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=1200))
    make_usage_event(worn, make_event(today + timedelta(days=5)), "planned")
    make_fault(sound_mat, "whole mat", None, reported_on=today)
    page = visitor_client.get("/").content.decode()
    assert "Not fit for a planned event" in page
    assert "/work-orders/raise/" not in page and "/end/" not in page and "Change its mats" not in page


def test_queries_do_not_grow_with_the_pool(keeper_client, today):
    design, depot, counts, made = make_design(lengths_m=[0.6, 1.1]), make_depot(), [], 0
    series = make_series(today + timedelta(days=9))
    keeper_client.get("/")
    for size in (1, 3, 50):
        while made < size:
            made += 1
            worn = make_mat(design=design, depot=depot, fitted=True, fitted_on=today - timedelta(days=1200))
            old = make_mat(design=design, depot=depot, fitted=True, fitted_on=today - timedelta(days=500))
            order_for(old, today, planned_on=today)
            make_mat(design=design, depot=depot)
            make_fault(old, "cover or fold", None, reported_on=today)
            make_usage_event(worn, make_event(today + timedelta(days=5)), "planned")
            make_usage_event(worn, make_event(today + timedelta(days=9 + 7 * made), series=series), "planned")
            make_usage_event(worn, make_event(today - timedelta(days=5)), "planned")
        assess_pool(today)
        with CaptureQueriesContext(connection) as captured:
            assert keeper_client.get("/").status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1
