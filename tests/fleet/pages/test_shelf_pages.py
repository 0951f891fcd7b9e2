"""The pages of the shelf: receive, look, count, move, throw away; the ledger and the lots."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_cable_type, make_depot, make_design, make_mat, make_pile, make_segment
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment, StockEntry
from fleet.models.stock import Pile
from fleet.services.arrivals import Arrival
from fleet.services.register import add_segment
from fleet.services.shelf import lie_there, receive_cables

pytestmark = pytest.mark.django_db
KIND = "/shelf/kinds/Fen%202.5/0.6/"


@pytest.fixture
def thin():
    return make_cable_type("Fen 2.5")


@pytest.fixture
def quay():
    return make_depot("Quay Street")


@pytest.fixture
def pile(thin, quay):
    return make_pile(thin, 0.6, quay, 8)


@pytest.fixture
def spare(thin, quay, keeper, today):
    kind = {"cable_type": thin, "length_m": 0.6, "lot": "L-7"}
    return add_segment(serial="C-SPARE", by=keeper, on=today, arrival=Arrival(quay), **kind)


def sent(client, address, **typed):
    """What the page's own form answers once this is typed into it."""
    return client.post(address, form_in(client.get(address)) | typed, follow=True)


def told():
    return list(StockEntry.objects.order_by("number").values_list("change", "reason", "note"))


# --- receive


def test_a_delivery_is_received_and_lies_there(bench_client, thin, quay):
    typed = {"cable_type": "Fen 2.5", "length_m": "0,6", "count": "20", "depot": "Quay Street", "lot": "L-7"}
    page = sent(bench_client, "/shelf/receive/", **typed)
    assert page.request["PATH_INFO"] == "/shelf/kinds/Fen 2.5/0.6/"
    assert "20 cables received: 0.60 m of Fen 2.5, lot L-7, at Quay Street." in words_in(page.content.decode())
    assert lie_there(Pile(thin, 0.6, quay, "L-7")) == 20


def test_the_same_delivery_sent_twice_is_received_once(bench_client, thin):
    form = form_in(bench_client.get("/shelf/receive/")) | {"cable_type": "Fen 2.5", "length_m": "0.6", "count": "20"}
    first, second = (bench_client.post("/shelf/receive/", form) for _ in range(2))
    assert first.status_code == second.status_code == 302
    assert StockEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("count", "0", "at least 1"),
        ("count", "20000", "Write 10000 or a number below it."),
        ("count", "two", "Write a whole number"),
        ("length_m", "600", "0.6 m (600 mm)?"),
        ("day", "2999-01-01", "2999"),
        ("cable_type", "no such", "Choose one of the values that are offered."),
    ],
)
def test_what_cannot_be_received_is_said_and_what_was_typed_stays(bench_client, thin, field, typed, said):
    given = {"cable_type": "Fen 2.5", "length_m": "0.6", "count": "20", "note": "delivery 4"} | {field: typed}
    page = sent(bench_client, "/shelf/receive/", **given)
    assert page.status_code == 422 and not StockEntry.objects.exists()
    assert said in words_in(page.content.decode())
    assert form_in(page)["note"] == "delivery 4"


def test_a_set_is_received_as_its_cables(bench_client, thin, quay):
    make_design("D-4", lengths_m=(0.6, 0.6, 1.1), cable_type=thin)
    page = sent(bench_client, "/shelf/receive-set/", design="D-4", count="2", depot="Quay Street")
    assert "2 sets of D-4 received: 6 cables." in words_in(page.content.decode())
    assert told() == [(4, "received", "2 sets of D-4"), (2, "received", "2 sets of D-4")]


# --- one kind


def test_a_kind_says_what_lies_where_and_what_came_and_went(visitor_client, pile, spare):
    page = words_in(visitor_client.get(KIND).content.decode())
    assert "9 cables of this kind lie on the shelf." in page
    assert "Quay Street L-7 8" in page and "C-SPARE Quay Street L-7" in page
    assert "Throw away" not in page


def test_a_count_that_differs_is_entered_with_its_reason_and_missing_cables_are_withdrawn(keeper_client, pile, spare):
    typed = {"pile-1": "6", f"cable-{spare.pk}": "on"}
    refused = sent(keeper_client, f"{KIND}count/", **typed)
    assert refused.status_code == 422 and "Say why it differs" in words_in(refused.content.decode())
    page = keeper_client.post(f"{KIND}count/", form_in(refused) | typed | {"reason": "nobody knows"}, follow=True)
    assert "What was counted differs by 3 cables" in words_in(page.content.decode())
    assert told()[2:] == [(-1, "scrapped", "nobody knows"), (-2, "counted", "nobody knows")]
    assert CableSegment.objects.get().withdrawal_reason == "nobody knows"


def test_what_is_found_where_none_should_be_is_counted_there(keeper_client, thin, pile, quay):
    make_depot("Hangar 2")
    sent(keeper_client, f"{KIND}count/", found="3", to="Hangar 2", lot="L-9", reason="in a drawer")
    assert told()[1:] == [(3, "counted", "in a drawer")]
    twice = sent(keeper_client, f"{KIND}count/", found="3", to="Quay Street", lot="L-7", reason="in a drawer")
    assert "Some lie there already" in words_in(twice.content.decode())


def test_a_count_of_nothing_asks_for_a_number(keeper_client, pile):
    page = sent(keeper_client, f"{KIND}count/")
    assert "Write what you counted, at one place at least." in words_in(page.content.decode())


@pytest.mark.parametrize(
    ("act", "typed"),
    [
        ("count", {"pile-1": "6", "reason": "lost"}),
        ("move", {"pile-1": "6"}),
        ("scrap", {"pile-1": "6", "reason": "x"}),
    ],
)
def test_an_act_on_a_pile_that_somebody_changed_meanwhile_can_be_sent_again(
    keeper_client, pile, today, keeper, act, typed
):
    opened = form_in(keeper_client.get(f"{KIND}{act}/"))
    receive_cables(pile, 2, by=keeper, on=today, day=today)
    late = keeper_client.post(f"{KIND}{act}/", opened | typed)
    page = words_in(late.content.decode())
    assert late.status_code == 422 and "Somebody else has just changed" in page and "(10 by the ledger)" in page
    assert len(told()) == 2
    answered = form_in(late)
    assert answered["pile-1"] == "6"
    assert keeper_client.post(f"{KIND}{act}/", answered).status_code == 302
    assert len(told()) > 2


def test_cables_with_a_serial_and_without_move_together(bench_client, pile, spare):
    make_depot("Hangar 2")
    page = sent(bench_client, f"{KIND}move/", **{"pile-1": "3", f"cable-{spare.pk}": "on", "to": "Hangar 2"})
    assert "4 cables moved to Hangar 2." in words_in(page.content.decode())
    assert [row[:2] for row in told()[2:]] == [(-3, "moved"), (3, "moved"), (-1, "moved"), (1, "moved")]


def test_more_than_lies_there_is_not_thrown_away(bench_client, pile):
    page = sent(bench_client, f"{KIND}scrap/", **{"pile-1": "9", "reason": "wet"})
    assert "8 lie on the shelf of 0.60 m of Fen 2.5" in words_in(page.content.decode())
    assert len(told()) == 1


@pytest.mark.parametrize("address", ["none-such/0.6/", "Fen%202.5/much/", "Fen%202.5/nan/", "Fen%202.5/-1/"])
def test_a_kind_that_cannot_be_is_not_found(visitor_client, thin, address):
    assert visitor_client.get(f"/shelf/kinds/{address}").status_code == 404


# --- ledger and lots


def test_the_ledger_is_found_in_by_lot_type_depot_and_reason(visitor_client, pile, spare, thin):
    make_pile(thin, 1.1, None, 4, "L-9")

    def listed(**asked):
        return words_in(visitor_client.get("/shelf/ledger/", asked).content.decode())

    assert "3 entries" in listed() and "1 entry" in listed(find="SPARE") and "2 entries" in listed(depot="Quay Street")
    assert "+4" in listed(find="L-9") and "No entry fits" in listed(reason="fitted")


def test_a_bad_lot_is_found_with_every_position_it_sits_in(visitor_client, pile, spare, thin, today):
    mat = make_mat("M-017", make_design(lengths_m=(0.6, 0.6), cable_type=thin))
    fit(make_segment(0.6, "C-IN", cable_type=thin, lot="L-7"), mat, 2)
    gone = {"withdrawn_on": today - timedelta(days=1), "withdrawal_reason": "braid broken"}
    make_segment(0.6, "C-GONE", cable_type=thin, lot="L-7", **gone)
    make_segment(0.6, "C-OTHER", cable_type=thin, lot="L-70")
    page = words_in(visitor_client.get("/shelf/lot/", {"lot": "L-7"}).content.decode())
    assert "11 cables: 1 in mats, 1 on the shelf with a serial, 8 without, 1 withdrawn." in page
    assert "C-IN M-017 · 2" in page and "braid broken" in page and "C-OTHER" not in page
    assert "8 of 0.60 m of Fen 2.5 , at Quay Street" in page.replace("Fen 2.5,", "Fen 2.5 ,")
    lots = words_in(visitor_client.get("/shelf/lots/").content.decode())
    assert "L-7 1 1 8 1" in lots and "L-70 0 1 0 0" in lots


def test_a_lot_that_nobody_has_is_said(visitor_client):
    assert "No cable of this lot is known." in words_in(visitor_client.get("/shelf/lot/?lot=x").content.decode())


@pytest.mark.parametrize("address", [KIND, f"{KIND}count/", "/shelf/ledger/", "/shelf/lots/", "/shelf/lot/?lot=L-0"])
def test_queries_of_the_shelf_do_not_grow(keeper_client, thin, quay, keeper, today, address):
    def add(number):
        make_pile(thin, 0.6, make_depot(f"Depot {number}"), 4, f"L-{number}")
        kind = {"cable_type": thin, "length_m": 0.6, "lot": "L-0"}
        add_segment(serial=f"S-{number}", by=keeper, on=today, arrival=Arrival(quay), **kind)

    def asked():
        with CaptureQueriesContext(connection) as captured:
            assert keeper_client.get(address).status_code == 200
        return len(captured)

    add(0)
    few = asked()
    for number in range(1, 6):
        add(number)
    assert asked() == few


# --- a cable that gets its serial, and what is told of it


def test_a_cable_is_added_out_of_those_that_were_counted(bench_client, pile, thin):
    typed = {"serial": "C-1", "cable_type": "Fen 2.5", "length_m": "0.6", "counted": "on"}
    page = words_in(sent(bench_client, "/cables/add/", **typed).content.decode())
    assert lie_there(pile) == 7
    assert "On the shelf and off it" in page and "it was counted there without a serial" in page
    none_left = sent(bench_client, "/cables/add/", **typed | {"serial": "C-2", "length_m": "1.1"})
    assert "No 1.10 m of Fen 2.5 is counted" in words_in(none_left.content.decode())


def test_who_deletes_such_a_cable_is_told_that_it_is_counted_again(keeper_client, pile, thin, keeper, today):
    kind = {"cable_type": thin, "length_m": 0.6, "arrival": Arrival(counted=True)}
    add_segment(serial="C-1", by=keeper, on=today, **kind)
    page = words_in(keeper_client.get("/cables/C-1/delete/").content.decode())
    assert "It is counted on the shelf without a serial again." in page
    sent(keeper_client, "/cables/C-1/delete/", reason="typed twice")
    assert lie_there(pile) == 8 and not CableSegment.objects.exists()
