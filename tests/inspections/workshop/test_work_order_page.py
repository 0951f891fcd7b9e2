"""The work order's page: every point that a person at the bench must see, whatever the design leaves open."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_cable_type, make_design, make_fault, make_mat, make_reading
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment
from inspections.assessment.services import assess_pool
from inspections.models import WorkOrder
from inspections.workshop.services import raise_work_orders, withdraw_work_order

pytestmark = pytest.mark.django_db

# Each point of the cautions and steps that the sheet must carry; common practice of the trade, no source.
CAUTIONS_SAY = (
    r"switch the reader off, take its battery out, unplug it and secure it against being switched on",
    r"no analyser on a cable that has a reader on it",
    r"dry before you open it\. no hot air",
    r"lift with two people, from the knees: this mat weighs 11\.5 kg, more when wet",
    r"block the fold open: crush hazard",
    r"discharge static .* before you touch the board",
    r"eye protection when cutting: cut braid is sharp",
    r"solvent: no flame, and plenty of air",
    r"wet gear near mains only behind a residual-current device",
    r"never fold it away or store it damp",
    r"every opening wears the mat",
    r"local regulations and licensed practice take precedence",
)
# once a mat, for each cable, once a mat again
STEPS_SAY = (
    r"number on the mat with this sheet",
    r"reader off, battery out, feed lead off the mat",
    r"flat at waist height and wipe it dry",
    r"by its cover\. never pull on a cable",
    r"photograph the cable ends and number each one",
    r"undo the clamps on the jacket before you touch a nut",
    r"short spanner, square on it\. the cable must not turn with the nut",
    r"second spanner where it has flats, else put a hand behind the board\. stop if the board bows",
    r"old and the new cable side by side: same length, same connectors",
    r"inspect the faces of the connectors and clean them\. check the position against its number",
    r"start the nut by hand\. finish with the torque tool\. without one: finger-tight and a small fraction of a turn",
    r"if the thread binds, back off and look",
    r"through every clamp: straight for some diameters behind the connector, .* bend radius, and with slack",
    r"fold the mat once, slowly, and look",
    r"with an instrument: measure it",
    r"without one: reader at low power, a transponder over each element in turn, and write “read” or “not read”",
    r"mark the old cables",
)


def segments_of(mat):
    return CableSegment.objects.filter(fittings__mat=mat).order_by("fittings__position")


def order_for(mat, keeper, on, positions=slice(None)):
    return raise_work_orders([segment.pk for segment in segments_of(mat)[positions]], by=keeper, on=on)[0]


def page_of(client, order):
    response = client.get(order.get_absolute_url())
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def mat():
    return make_mat("M-017", fitted=True)


@pytest.fixture
def order(mat, keeper, today):
    return order_for(mat, keeper, today, slice(1, 3))


@pytest.fixture
def text(visitor_client, order):
    return words_in(page_of(visitor_client, order))


@pytest.mark.parametrize("point", CAUTIONS_SAY)
def test_every_caution_is_on_the_page(visitor_client, order, point):
    frame = re.search(r'<section class="frame-caution">(.*?)</section>', page_of(visitor_client, order), re.S).group(1)
    assert re.search(point, words_in(frame), re.I)


@pytest.mark.parametrize("point", STEPS_SAY)
def test_every_step_is_on_the_page(visitor_client, order, point):
    lists = re.findall(r'<ol class="(?:tick|letter)-list[^"]*">(.*?)</ol>', page_of(visitor_client, order), re.S)
    assert re.search(point, words_in(" ".join(lists)), re.I)


def test_it_names_order_mat_day_and_until_when_it_is_valid(text, order, today):
    assert "Work order W-" in text and ": mat M-017" in text
    assert f"Valid until {today + timedelta(days=30):%-d %b %Y}, then out of date" in text
    assert "Do not use this mat until every line is done or has a reason." in text


def cells_of(client, order):
    rows = re.findall(r'<tr class="\w+" role="row">.*?</tr>', page_of(client, order), re.S)
    return [[words_in(cell) for cell in re.findall(r"<td.*?</td>", row, re.S)] for row in rows]


def test_each_cable_has_a_row_with_its_position_its_length_why_and_its_last_reading(visitor_client, mat, keeper, today):
    make_reading(segments_of(mat)[1], 1.31, today - timedelta(days=9), temperature_c=20)
    order = order_for(mat, keeper, today, slice(1, 3))
    serials = [line.segment.serial for line in order.lines.all()]
    read_on = f"{today - timedelta(days=9):%-d %b %Y}"
    assert [row[:4] for row in cells_of(visitor_client, order)] == [
        ["2", f"{serials[0]} 1.10 m", f"3 years old on 1 Mar 2028 last read 1.31 dB, {read_on}", "a b c d e"],
        ["3", f"{serials[1]} 1.60 m", "3 years old on 1 Mar 2028 not measured", "a b c d e"],
    ]


def test_lines_are_left_for_cable_value_torque_reason_name_date_and_signature(visitor_client, order):
    page = page_of(visitor_client, order)
    assert len(re.findall(r'<td class="[^"]*\bhand\b', page)) == 4 * order.lines.count()
    assert re.findall(r"<dt>(\w+)</dt><dd></dd>", page) == ["Name", "Date", "Signature"]


def test_a_sheet_of_before_keeps_its_plain_list_of_steps(visitor_client, order):
    WorkOrder.objects.update(sheet=order.sheet | {"steps": ["Number each end.", "Change it."]})
    text = words_in(page_of(visitor_client, order))
    assert "Steps, for each cable Number each end. Change it." in text
    assert "a b c d e" not in text


def test_the_drawing_fills_the_positions_to_change(visitor_client, order):
    drawing = re.search(r"<svg role=\"img\".*?</svg>", page_of(visitor_client, order), re.S).group(0)
    assert drawing.count('href="#mark-change-now"') == 2
    assert "Position 2: 1.10 m, to change" in drawing and "Position 1: 0.60 m." in drawing


def test_known_tools_are_named_with_their_values(visitor_client, keeper, today):
    cable_type = make_cable_type("thin", spanner_mm=8, torque_min_nm=0.4, torque_max_nm=0.6, bend_radius_mm=30)
    mat = make_mat(design=make_design(cable_type=cable_type), fitted=True)
    text = words_in(page_of(visitor_client, order_for(mat, keeper, today)))
    assert "thin: spanner 8 mm, torque 0.4 to 0.6 N·m, bend radius 30 mm" in text
    assert "1 × 0.60 m" in text and "maker’s value" not in text


def test_unknown_tools_are_a_line_to_fill_and_no_number(text):
    tools = re.search(r"Tools (.*?) First", text).group(1)
    values = tools.partition(": ")[2].replace(" ,", ",")
    assert values.split(", ") == [
        "spanner maker’s value: ____ mm",
        "torque maker’s value: ____ N·m",
        "bend radius maker’s value: ____ mm",
    ]
    assert not re.search(r"\d", values)


def test_a_design_without_width_is_drawn_not_to_scale(visitor_client, keeper, today):
    mat = make_mat(design=make_design(width_m=None, folds_m=[], weight_kg=None), fitted=True)
    text = words_in(page_of(visitor_client, order_for(mat, keeper, today)))
    assert "Not to scale" in text
    assert "weight of this mat, not recorded: ____ kg" in text


def test_a_withdrawn_order_says_so_on_its_sheet(keeper_client, order, today):
    url = f"{order.get_absolute_url()}withdraw/"
    version = re.search(r'name="version" value="(\d+)"', keeper_client.get(url).content.decode()).group(1)
    assert keeper_client.post(url, {"reason": "wrong mat", "version": version}).url == order.get_absolute_url()
    assert f"Withdrawn {today:%-d %b %Y}: wrong mat" in words_in(page_of(keeper_client, order))


def test_withdrawing_on_an_old_page_keeps_what_was_typed(keeper_client, order):
    url = f"{order.get_absolute_url()}withdraw/"
    response = keeper_client.post(url, {"reason": "wrong mat", "version": 99})
    assert response.status_code == 422
    assert "Somebody else changed this meanwhile" in response.content.decode()
    assert 'value="wrong mat"' in response.content.decode()
    assert WorkOrder.objects.get().withdrawn_on is None


def test_a_visitor_may_not_withdraw(visitor_client, order):
    assert visitor_client.post(f"{order.get_absolute_url()}withdraw/", {"reason": "x"}).status_code == 403


def test_an_order_that_is_not_there_is_not_found(visitor_client, db):
    assert visitor_client.get("/work-orders/W-1999-001/").status_code == 404


def test_the_page_for_raising_ticks_what_is_due(bench_client, today):
    mat = make_mat("M-005", fitted=True, fitted_on=today - timedelta(days=100))
    make_fault(mat, "connector", 2, reported_on=today)
    page = bench_client.get("/work-orders/raise/?mat=M-005").content.decode()
    ticked = re.findall(r'value="([^"]+)"\s+data-mat="M-005" checked', page)
    assert ticked == [segments_of(mat)[1].serial]
    assert page.count('data-mat="M-005"') == 4


@pytest.mark.parametrize(("query", "said"), [("", "No mat is chosen."), ("?mat=M-404", "There is no mat M-404.")])
def test_asking_for_no_mat_or_an_unknown_one_says_so(bench_client, db, query, said):
    assert said in bench_client.get(f"/work-orders/raise/{query}").content.decode()


def test_the_list_names_each_order_and_what_became_of_it(visitor_client, order, keeper, today):
    old = order_for(make_mat("M-018", fitted=True), keeper, today - timedelta(days=40))
    text = words_in(visitor_client.get("/work-orders/").content.decode())
    assert f"{order} M-017 2" in text and f"open until {today + timedelta(days=30):%-d %b %Y}" in text
    assert f"{old} M-018 4" in text and f"out of date after {today - timedelta(days=10):%-d %b %Y}" in text


def test_an_empty_list_says_what_to_do_first(visitor_client, db):
    assert "Tick cables in the due list" in visitor_client.get("/work-orders/").content.decode()


def queries_of(client, url):
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


def test_queries_of_the_list_do_not_grow_with_orders(visitor_client, keeper, today):
    design, counts = make_design(lengths_m=[0.6]), []
    for orders in (1, 3, 50):
        while WorkOrder.objects.count() < orders:
            mat = make_mat(design=design)
            WorkOrder.objects.create(number=f"W-2026-{mat.pk}", mat=mat, raised_on=today, recorded_by=keeper)
        counts.append(queries_of(visitor_client, "/work-orders/"))
    assert len(set(counts)) == 1


def test_queries_of_a_sheet_do_not_grow_with_cables(visitor_client, keeper, today):
    counts = []
    for cables in (1, 3, 12):
        design = make_design(lengths_m=[round(0.5 * n, 1) for n in range(1, cables + 1)])
        order = order_for(make_mat(design=design, fitted=True), keeper, today)
        counts.append(queries_of(visitor_client, order.get_absolute_url()))
    assert len(set(counts)) == 1


def test_it_is_given_to_somebody_for_a_day_and_says_so(bench_client, order, today):
    page, day = f"{order.get_absolute_url()}give/", today + timedelta(days=3)
    form = form_in(bench_client.get(page)) | {"given_to": "Tam", "planned_on": day.isoformat()}
    answer = bench_client.post(page, form)
    assert answer.status_code == 302, words_in(answer.content.decode())
    assert f"For Tam, {day:%-d %b %Y}" in words_in(page_of(bench_client, order))
    assert "Tam" in words_in(bench_client.get("/work-orders/").content.decode())
    late = bench_client.post(
        page, form | {"planned_on": (today - timedelta(days=1)).isoformat(), "version": order.version + 1}
    )
    assert late.status_code == 422 and "plan a later day" in words_in(late.content.decode())


def test_raised_it_takes_person_day_and_every_position(bench_client, keeper, today):
    mat = make_mat("M-020", fitted=True)
    assess_pool(today)
    page = "/work-orders/raise/?mat=M-020"
    first = mat.fittings.get(position=1).segment
    form = {"token": form_in(bench_client.get(page))["token"], "segments": [first.serial], "every_position": "on"}
    day = today + timedelta(days=2)
    answer = bench_client.post("/work-orders/raise/", form | {"given_to": "Odo", "planned_on": day.isoformat()})
    order = WorkOrder.objects.get(mat=mat)
    assert answer.url == order.get_absolute_url()
    assert (order.lines.count(), order.given_to, order.planned_on) == (4, "Odo", day)


def test_the_list_is_narrowed_to_what_is_to_do_or_what_became_of_it(bench_client, order, keeper, today):
    old = order_for(make_mat("M-018", fitted=True), keeper, today - timedelta(days=40))
    gone = order_for(make_mat("M-019", fitted=True), keeper, today)
    withdraw_work_order(gone, by=keeper, on=today, reason="wrong mat")
    shown = {
        "": {order, old, gone},
        "to do": {order},
        "out of date": {old},
        "renewed or withdrawn": {gone},
        "signed off": set(),
    }
    for state, orders in shown.items():
        text = bench_client.get("/work-orders/", {"state": state}).content.decode()
        assert {row for row in (order, old, gone) if row.get_absolute_url() in text} == orders
