"""The register over HTTP: lists, adding, correcting, withdrawing, and who may."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import (
    make_cable_type,
    make_depot,
    make_design,
    make_event,
    make_mat,
    make_price,
    make_segment,
    make_usage_event,
)

from fleet.models import CableSegment, CableType, Depot, Mat, MatDesign
from fleet.selectors.trail import trail_of

OF_CODES = ["fleet:mat-list", "fleet:segment-list", "fleet:design-list", "fleet:cable-type-list", "fleet:depot-list"]
LISTS = [*OF_CODES, "fleet:price-list"]


def page(client, name, *args, **query):
    return client.get(reverse(name, args=args), query)


def text_of(answer):
    return answer.content.decode()


def one_more_of_everything():
    mat = make_mat(design=make_design(), depot=make_depot(), fitted=True)
    make_segment()
    make_price(make_cable_type(), 0.6)
    return mat


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_the_same_queries_for_2_3_and_50_rows(keeper_client, name):
    """Two rows stand in two depots, which from then on are asked about."""
    asked = []
    for rows in (2, 1, 47):
        for _ in range(rows):
            one_more_of_everything()
        keeper_client.get(reverse(name))
        with CaptureQueriesContext(connection) as queries:
            assert keeper_client.get(reverse(name)).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1] == asked[2]


@pytest.mark.parametrize("name", LISTS)
def test_an_empty_list_says_what_to_do_first(keeper_client, name):
    assert 'class="empty"' in text_of(page(keeper_client, name))


@pytest.mark.parametrize("name", LISTS)
def test_every_column_sorts_both_ways(visitor_client, name):
    one_more_of_everything()
    columns = page(visitor_client, name).context["table"].columns
    for column in [column.name for column in columns if column.orderable]:
        for sort in (column, f"-{column}"):
            assert page(visitor_client, name, sort=sort).status_code == 200


def shown(answer):
    return [str(row.record) for row in answer.context["table"].rows]


def test_mats_are_narrowed_by_depot_owner_design_state_and_number(visitor_client):
    quay, four = make_depot("Quay Street"), make_design("four")
    make_mat("M-001", design=four, depot=quay, owner="north")
    make_mat("M-002", owner="south")
    make_mat("M-003", withdrawn_on=date(2026, 1, 1))
    for query, numbers in [
        ({}, ["M-001", "M-002"]),
        ({"depot": "Quay Street"}, ["M-001"]),
        ({"design": "four"}, ["M-001"]),
        ({"owner": "south"}, ["M-002"]),
        ({"state": "withdrawn"}, ["M-003"]),
        ({"state": "all", "find": "m-00"}, ["M-001", "M-002", "M-003"]),
        ({"depot": "no such"}, ["M-001", "M-002"]),
    ]:
        assert shown(page(visitor_client, "fleet:mat-list", **query)) == numbers, query


@pytest.mark.parametrize("name", OF_CODES)
def test_a_list_is_in_order_of_its_codes(visitor_client, name):
    for code in ("b", "c", "a"):
        make_mat(code, design=make_design(code, cable_type=make_cable_type(code)), depot=make_depot(code))
        make_segment(serial=code, cable_type=CableType.objects.get(name=code))
    assert shown(page(visitor_client, name)) == ["a", "b", "c"]


def test_cables_are_narrowed_by_where_they_are(visitor_client):
    fitted = make_mat(fitted=True, design=make_design(lengths_m=(0.6,))).fittings.get().segment
    spare, gone = make_segment(1.1), make_segment(1.1, withdrawn_on=date(2026, 1, 1), withdrawal_reason="crushed")
    for where, cables in [
        ("", [fitted, spare]),
        ("all", [fitted, spare, gone]),
        ("fitted", [fitted]),
        ("on the shelf", [spare]),
        ("withdrawn", [gone]),
    ]:
        assert shown(page(visitor_client, "fleet:segment-list", where=where)) == [str(cable) for cable in cables]
    assert shown(page(visitor_client, "fleet:segment-list", length_m="1,1")) == [str(spare)]


def send(client, page_name, *args, **values):
    return client.post(reverse(page_name, args=args), values)


def test_a_pool_is_typed_in_from_nothing(keeper_client):
    send(keeper_client, "fleet:cable-type-add", name="thin", db_per_m_400mhz="0,38", db_per_m_1000mhz="0.62")
    send(keeper_client, "fleet:depot-add", name="Quay Street")
    send(
        keeper_client, "fleet:design-add",
        code="four", cable_type="thin", width_m="2", folds_m="0,5 1,0 1,5", weight_kg="11,5",
        lengths_m="0.6 1.1 1.6 2.1",
    )  # fmt: skip
    mat = {"number": "M-001", "design": "four", "depot": "Quay Street", "acquired_on": "2026-01-05"}
    added = send(keeper_client, "fleet:mat-add", cables="later", **mat)
    assert added.url == reverse("fleet:mat-detail", args=["M-001"])
    send(keeper_client, "fleet:segment-add", serial="C-1", cable_type="thin", length_m="0,6", events_before="12")
    design = MatDesign.objects.get()
    assert (design.folds_m, design.width_m) == ([0.5, 1.0, 1.5], 2.0)
    assert list(design.positions.values_list("number", "length_m")) == [(1, 0.6), (2, 1.1), (3, 1.6), (4, 2.1)]
    assert Mat.objects.get().depot == Depot.objects.get()
    segment = CableSegment.objects.get()
    assert (segment.length_m, segment.events_before, segment.recorded_by.username) == (0.6, 12, "keeper")


def test_a_cable_added_for_a_position_leads_back_to_it(keeper_client):
    mat = make_mat("M-001")
    address = reverse("fleet:segment-add") + "?mat=M-001&position=2&length_m=1.1&cable_type=thin"
    assert 'value="1.1"' in text_of(keeper_client.get(address))
    cable_type = mat.design.positions.first().cable_type.name
    added = keeper_client.post(address, {"serial": "C-9", "length_m": "1.1", "cable_type": cable_type})
    assert added.url == reverse("fleet:fit", args=["M-001", 2]) + "?segment=C-9"


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"folds_m": "0.5 x"}, "“x” is not a number"),
        ({"folds_m": "1.0 0.5"}, "rise from the feed end"),
        ({"folds_m": "2.5"}, "A fold lies inside the width of 2 m"),
        ({"lengths_m": "0.6 -1"}, "“-1” is not a number"),
        ({"lengths_m": "0"}, "Write a number above 0"),
        ({"width_m": "wide"}, "Write a number, such as 1.5"),
        ({"code": "a/b"}, "no slash"),
        ({"code": "add"}, "write another code"),
    ],
)
def test_a_design_that_cannot_be_is_refused_and_what_was_typed_stays(keeper_client, values, sentence):
    make_cable_type("thin")
    typed = {"code": "four", "width_m": "2", "folds_m": "0.5", "lengths_m": "0.6 1.1", "cable_type": "thin"} | values
    answer = send(keeper_client, "fleet:design-add", **typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    for value in values.values():
        assert f'value="{value}"' in text_of(answer)
    assert not MatDesign.objects.exists()


def test_a_number_that_is_taken_is_named_also_when_its_mat_is_withdrawn(keeper_client):
    mat = make_mat("M-001", withdrawn_on=date(2026, 1, 2))
    answer = send(keeper_client, "fleet:mat-add", number="M-001", design=mat.design.code, cables="new")
    assert answer.status_code == 422
    assert "There is M-001 already, withdrawn on 2 Jan 2026" in text_of(answer)


ACQUIRED = date(2026, 1, 5)


@pytest.mark.parametrize(
    ("cables", "since", "fitted"),
    [
        ("new", "", (ACQUIRED, "known")),
        ("new", "March 2026", (date(2026, 3, 15), "about")),
        ("came with it", "", (ACQUIRED, "not later than")),
        ("came with it", "2024", (date(2024, 12, 31), "not later than")),
    ],
)
def test_a_mat_is_added_with_all_its_cables_in_one_act(keeper_client, cables, since, fitted):
    make_design(code="two", lengths_m=(0.6, 1.1))
    mat = {"number": "M-1", "design": "two", "acquired_on": "2026-01-05", "cables": cables, "since": since}
    send(keeper_client, "fleet:mat-add", **mat)
    held = Mat.objects.get().fittings.order_by("position")
    assert list(held.values_list("position", "segment__serial", "segment__length_m", "segment__serial_basis")) == [
        (1, "C-00001", 0.6, "given"),
        (2, "C-00002", 1.1, "given"),
    ]
    assert set(held.values_list("fitted_on", "fitted_basis")) == {fitted}


def test_a_mat_of_a_design_without_positions_is_not_added_with_cables(keeper_client):
    make_design(code="bare", lengths_m=())
    answer = send(keeper_client, "fleet:mat-add", number="M-1", design="bare", cables="new")
    assert "bare has no position yet" in text_of(answer)
    assert not Mat.objects.exists()


def corrected(mat, **values):
    plain = {"number": mat.number, "design": mat.design.code, "owner": mat.owner, "version": mat.version}
    return plain | values


def test_a_correction_shows_in_the_trail_of_its_page_with_who_and_why(keeper_client):
    mat = make_mat("M-001", owner="north")
    send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, owner="south", reason="sold"))
    seen = text_of(page(keeper_client, "fleet:mat-detail", "M-001"))
    for words in ("<del>north</del>", "<ins>south</ins>", "keeper", "sold"):
        assert words in seen


def test_what_somebody_else_changed_meanwhile_is_refused_and_what_was_typed_stays(keeper_client):
    mat = make_mat("M-001", owner="north")
    send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, owner="south"))
    late = send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, owner="west"))
    assert late.status_code == 422
    assert "Somebody else changed this meanwhile" in text_of(late)
    assert 'value="west"' in text_of(late)
    mat.refresh_from_db()
    assert mat.owner == "south"
    again = {**corrected(mat, owner="west"), "version": late.context["form"]["version"].value()}
    assert send(keeper_client, "fleet:mat-correct", "M-001", **again).status_code == 302
    mat.refresh_from_db()
    assert mat.owner == "west"


def test_a_mat_with_another_number_is_found_under_the_new_one(keeper_client):
    mat = make_mat("M-001")
    answer = send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, number="M-101"))
    assert answer.url == reverse("fleet:mat-detail", args=["M-101"])
    assert page(keeper_client, "fleet:mat-detail", "M-001").status_code == 404


def test_a_mat_gets_no_design_that_lacks_a_position_it_uses(keeper_client):
    mat = make_mat("M-001", fitted=True)
    short = make_design("short", lengths_m=(0.6, 1.1))
    answer = send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, design=short.code))
    assert "short has no position 3, 4, which holds a cable" in text_of(answer)


def test_withdrawing_wants_a_reason_and_keeps_the_mat(keeper_client, today):
    mat = make_mat("M-001", fitted=True)
    values = {"withdrawn_on": today.isoformat(), "version": mat.version}
    assert send(keeper_client, "fleet:mat-withdraw", "M-001", **values).status_code == 422
    send(keeper_client, "fleet:mat-withdraw", "M-001", reason="torn in two", **values)
    mat.refresh_from_db()
    assert (mat.withdrawn_on, mat.withdrawal_reason) == (today, "torn in two")
    assert "torn in two" in text_of(page(keeper_client, "fleet:mat-detail", "M-001"))
    send(keeper_client, "fleet:mat-withdraw", "M-001", reason="sewn up", version=mat.version)
    mat.refresh_from_db()
    assert mat.withdrawn_on is None


def test_reasons_are_kept_as_long_as_they_may_be_typed(keeper_client, today):
    mat = make_mat("M-001")
    reason = ("Lent to the hill club, whose steward says that it was folded wet and left in the van for a month. " * 2)[
        :200
    ]
    send(keeper_client, "fleet:mat-correct", "M-001", **corrected(mat, owner="hill club"), reason=reason)
    send(keeper_client, "fleet:mat-withdraw", "M-001", withdrawn_on=today.isoformat(), version=2, reason=reason)
    send(keeper_client, "fleet:mat-withdraw", "M-001", version=3, reason=reason)
    mat.refresh_from_db()
    assert mat.version == 4
    assert [entry.reason for entry in trail_of(mat)] == [*[reason.strip()] * 3, ""]


def test_a_mat_that_is_planned_is_called_off_before_it_is_withdrawn(keeper_client, today):
    mat = make_mat("M-001")
    make_usage_event(mat, make_event(today, code="E-1", name="Quay run"), "planned")
    values = {"withdrawn_on": today.isoformat(), "version": mat.version, "reason": "lost"}
    answer = send(keeper_client, "fleet:mat-withdraw", "M-001", **values)
    assert "E-1 Quay run (planned)" in text_of(answer)


def test_positions_of_a_design_are_added_and_corrected_with_their_trail(keeper_client):
    design = make_design("four", lengths_m=(0.6, 1.1))
    position = design.positions.get(number=2)
    kind = position.cable_type.name
    send(keeper_client, "fleet:position-add", "four", number="3", length_m="1.6", cable_type=kind)
    send(
        keeper_client, "fleet:position-correct", "four", 2,
        length_m="1.2", cable_type=kind, reason="measured again", version=position.version,
    )  # fmt: skip
    assert list(design.positions.values_list("number", "length_m")) == [(1, 0.6), (2, 1.2), (3, 1.6)]
    assert "measured again" in text_of(page(keeper_client, "fleet:design-detail", "four"))
    taken = send(keeper_client, "fleet:position-add", "four", number="3", length_m="1.6", cable_type=kind)
    assert "has a position 3 already" in text_of(taken)


KEEPERS_PAGES = [
    ("fleet:mat-add", []), ("fleet:mat-correct", ["M-001"]), ("fleet:mat-withdraw", ["M-001"]),
    ("fleet:segment-correct", ["C-1"]), ("fleet:segment-withdraw", ["C-1"]),
    ("fleet:design-add", []), ("fleet:design-correct", ["four"]), ("fleet:position-add", ["four"]),
    ("fleet:position-correct", ["four", 1]), ("fleet:position-delete", ["four", 1]),
    ("fleet:cable-type-add", []), ("fleet:cable-type-correct", ["thin"]),
    ("fleet:cable-type-withdraw", ["thin"]), ("fleet:depot-add", []), ("fleet:depot-correct", ["Quay"]),
    ("fleet:depot-withdraw", ["Quay"]), ("fleet:design-withdraw", ["four"]),
]  # fmt: skip


@pytest.fixture
def small_pool(db):
    thin = make_cable_type("thin")
    make_mat("M-001", design=make_design("four", cable_type=thin), depot=make_depot("Quay"), fitted=True)
    return make_segment(serial="C-1", cable_type=thin)


@pytest.mark.parametrize(("name", "args"), KEEPERS_PAGES)
def test_the_register_is_changed_by_the_keeper_alone(
    small_pool, keeper_client, bench_client, visitor_client, name, args
):
    for client, status in ((keeper_client, 200), (bench_client, 403), (visitor_client, 403)):
        assert page(client, name, *args).status_code == status
    for client in (bench_client, visitor_client):
        assert send(client, name, *args, name="x", number="x", code="x", serial="x").status_code == 403


def test_visitors_see_every_page_and_no_way_to_change_it(small_pool, visitor_client):
    details = [("mat", "M-001"), ("segment", "C-1"), ("design", "four"), ("cable-type", "thin")]
    addresses = [reverse(name) for name in LISTS] + [
        reverse(f"fleet:{kind}-detail", args=[code]) for kind, code in details
    ]
    for address in addresses:
        answer = visitor_client.get(address)
        assert answer.status_code == 200
        for way in ("/add/", "/correct/", "/withdraw/", "/fit/", "/take-out/", "/report/", "/delete/"):
            assert way not in text_of(answer), address


def test_names_are_shown_as_they_are_and_never_run(keeper_client):
    name = "<b>x'\"&"
    make_mat(name, design=make_design(name, cable_type=make_cable_type(name)), depot=make_depot(name), owner=name)
    make_segment(serial=name, cable_type=CableType.objects.get())
    addresses = [reverse(listed) for listed in LISTS]
    addresses += [reverse(f"fleet:{kind}-detail", args=[name]) for kind in ("mat", "segment", "design", "cable-type")]
    addresses += [reverse(f"fleet:{kind}-correct", args=[name]) for kind in ("mat", "segment", "design", "depot")]
    for address in addresses:
        seen = text_of(keeper_client.get(address))
        assert "<b>x" not in seen, address
        assert "&lt;b&gt;x" in seen, address
