"""Reference pieces: kept, agreed on, read first at the bench, and what their readings say of a bench day."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_depot, make_instrument, make_mat, make_piece, make_piece_reading, make_reading
from page_forms import form_in
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.bench.pieces.linked_selectors import unlinked_instruments
from inspections.models import AgreedValue, Assessment, ReferencePiece, ReferenceReading

pytestmark = pytest.mark.django_db
LIST = "/bench/pieces/"


def page_of(client, address):
    return words_in(client.get(address).content.decode())


def typed(client, address, **values):
    """What the form of a page sends, with these values typed."""
    form = form_in(client.get(address))
    return client.post(address, form | values)


def test_a_piece_is_added_with_its_agreed_value_and_shown_in_the_list(keeper_client, keeper, today):
    depot = make_depot("Quay")
    values = {"name": "Q-ref", "depot": depot.pk, "agreed_loss_db": "1,42", "uncertainty_db": "0.02"}
    answer = typed(keeper_client, f"{LIST}add/", **values, basis="ten readings on three days")
    piece = ReferencePiece.objects.get()
    assert (answer.status_code, answer.url, piece.depot, piece.recorded_by) == (302, f"{LIST}Q-ref/", depot, keeper)
    value = piece.values.get()
    assert (value.agreed_loss_db, value.uncertainty_db, value.agreed_on) == (1.42, 0.02, today)
    assert "Q-ref Quay 1.42 ± 0.02 dB never" in page_of(keeper_client, LIST)


def test_a_piece_may_wait_for_its_value_and_says_nothing_until_then(keeper_client, bench_client, today):
    typed(keeper_client, f"{LIST}add/", name="Q-ref")
    assert AgreedValue.objects.get().agreed_loss_db is None
    typed(bench_client, f"{LIST}Q-ref/read/", loss_db="1.5")
    page = page_of(bench_client, f"{LIST}Q-ref/")
    assert "No value is agreed yet, so it says nothing of the bench." in page
    assert "Run chart" not in page


@pytest.mark.parametrize(
    ("typed_values", "says"),
    [
        ({"agreed_loss_db": "1.42"}, "Write both, the agreed loss and its uncertainty."),
        ({"uncertainty_db": "0.02"}, "Write both, the agreed loss and its uncertainty."),
        ({"agreed_loss_db": "no", "uncertainty_db": "0.02"}, "Write the number of dB that the instrument shows."),
        ({"agreed_loss_db": "x", "uncertainty_db": "0.02"}, "is not a loss"),
        ({"agreed_loss_db": "1.42", "uncertainty_db": "0"}, "Write a number above 0."),
        ({"agreed_on": "2999-01-01"}, "cannot be right"),
        ({"name": "q-REF"}, "There is Q-ref already."),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence_and_what_was_typed_stays(typed_values, says, keeper_client):
    make_piece("Q-ref")
    answer = typed(keeper_client, f"{LIST}add/", **{"name": "new", **typed_values})
    page = words_in(answer.content.decode())
    assert (answer.status_code, says in page, ReferencePiece.objects.count()) == (422, True, 1)
    assert form_in(answer)["name"] == typed_values.get("name", "new")


@pytest.mark.parametrize(
    ("loss_db", "says"),
    [
        ("1.46", "+0.04 dB, inside ±0.16: go on."),
        ("1,55 dB", "+0.13 dB, inside ±0.16: go on, and watch it: it is near its limit."),
        ("1.73", "STOP and look: +0.31 dB, outside ±0.16."),
        ("1.11", "STOP and look: −0.31 dB, outside ±0.16."),
    ],
)
def test_the_bench_asks_for_the_piece_first_and_says_what_it_means(loss_db, says, bench_client, today):
    # by hand: 3 · sqrt(0.05² + 0.02²) = 0.162
    make_piece("Q-ref")
    mat = make_mat("M-1", fitted=True)
    for address in ("/bench/", "/bench/M-1/"):
        page = bench_client.get(address).content.decode()
        assert "Read Q-ref first: agreed 1.42 ± 0.02 dB" in words_in(page)
    form = {"loss_db": loss_db, "measured_on": today, "instrument": "", "next": "/bench/M-1/"}
    token = re.search(r'piece-first.*?name="token" value="([^"]+)"', page, re.S)[1]
    answer = bench_client.post("/bench/pieces/Q-ref/read/", form | {"token": token})
    assert (answer.status_code, answer.url) == (302, "/bench/M-1/")
    page = page_of(bench_client, "/bench/M-1/")
    assert page.count(says) == 2, "as the answer, and as what stands above the form"
    assert "Read Q-ref first" not in page and mat.number in page
    # the same form sent twice is one reading
    bench_client.post("/bench/pieces/Q-ref/read/", form | {"token": token})
    assert ReferenceReading.objects.count() == 1


def test_the_limits_are_those_of_the_instrument_where_its_repeatability_is_known(bench_client, today):
    make_piece("Q-ref")
    bridge = make_instrument("bridge", repeatability_db=0.01)
    typed(bench_client, f"{LIST}Q-ref/read/", loss_db="1.49", instrument=bridge.pk)
    # 3 · sqrt(0.01² + 0.02²) = 0.067
    assert "STOP and look: +0.07 dB, outside ±0.07." in page_of(bench_client, f"{LIST}Q-ref/")
    assert ReferenceReading.objects.get().instrument == bridge


def test_nothing_is_asked_where_nobody_keeps_a_piece_or_all_are_withdrawn(bench_client, today):
    make_mat("M-1", fitted=True)
    make_piece("Q-old", withdrawn_on=today, withdrawal_reason="dropped")
    assert "piece-first" not in bench_client.get("/bench/").content.decode()
    assert "piece-first" not in bench_client.get("/bench/M-1/").content.decode()


def test_a_mat_asks_for_the_pieces_of_its_own_depot(bench_client):
    quay, mill = make_depot("Quay"), make_depot("Mill")
    make_piece("Q-ref", depot=quay)
    make_piece("M-ref", depot=mill)
    make_piece("all", depot=None)
    make_mat("M-1", fitted=True, depot=quay)
    page = page_of(bench_client, "/bench/M-1/")
    assert [name for name in ("Q-ref", "M-ref", "all") if f"Read {name} first" in page] == ["Q-ref", "all"]


def test_above_the_first_mat_of_a_session_the_piece_is_asked_for_openly(bench_client, today):
    make_piece("Q-ref")
    for number in ("M-1", "M-2"):
        make_mat(number, fitted=True)
    asked = '<details class="fold" open>\n    <summary>Read Q-ref first'
    assert asked in bench_client.get("/bench/M-1/").text
    session = bench_client.session
    session["bench"] = {"method": "through", "typed_on": today.isoformat()}
    session.save()
    assert asked not in bench_client.get("/bench/M-2/").text
    assert "Read Q-ref first" in page_of(bench_client, "/bench/M-2/"), "it is still said"


def test_a_mat_of_a_bench_without_a_piece_says_so_where_another_bench_has_one(bench_client, keeper_client):
    make_mat("M-9", depot=make_depot("Quay"), fitted=True)
    said = "Quay keeps no reference piece: nothing tells whether its bench reads high or low today."
    assert said not in words_in(bench_client.get("/bench/M-9/").text), "nobody keeps one"
    make_piece("Upper piece", depot=make_depot("Upper"))
    assert said in words_in(bench_client.get("/bench/M-9/").text)
    assert "Add one" not in bench_client.get("/bench/M-9/").text
    assert "Add one" in keeper_client.get("/bench/M-9/").text


def test_losses_that_were_sent_and_refused_are_not_lost_to_the_form_of_the_piece(bench_client):
    make_piece("Q-ref")
    make_mat("M-1", fitted=True)
    page = bench_client.post("/bench/M-1/", {"measured_on": "2999-01-01"}).content.decode()
    assert "Save the losses, then read it" in words_in(page) and "piece-first" in page
    assert "/bench/pieces/Q-ref/read/" not in page


def test_a_slip_of_the_hand_is_asked_about_before_it_is_saved(bench_client, today):
    make_piece("Q-ref")
    answer = typed(bench_client, f"{LIST}Q-ref/read/", loss_db="14.2")
    page = answer.content.decode()
    assert answer.status_code == 422 and "is that what the instrument shows?" in words_in(page)
    assert not ReferenceReading.objects.exists()
    confirmed = re.search(r'name="confirmed" value="([0-9a-f]{16})"', page)[1]
    bench_client.post(f"{LIST}Q-ref/read/", form_in(answer) | {"confirmed": confirmed})
    assert ReferenceReading.objects.get().loss_db == 14.2


def test_the_last_reading_of_a_bench_day_counts(bench_client, today):
    piece = make_piece("Q-ref")
    make_piece_reading(piece, 1.73, today)
    assert "nobody looked yet" in page_of(bench_client, f"{LIST}Q-ref/")
    typed(bench_client, f"{LIST}Q-ref/read/", loss_db="1.43")
    page = page_of(bench_client, f"{LIST}Q-ref/")
    assert "read again later that day" in page and "nobody looked yet" not in page
    drawing = bench_client.get(f"{LIST}Q-ref/").content.decode()
    assert drawing.count('class="d-dot hollow"') == 1


def test_a_wrong_reading_is_corrected_or_deleted_with_a_trail(bench_client, today):
    piece = make_piece("Q-ref")
    reading = make_piece_reading(piece, 1.24, today)
    typed(bench_client, f"/piece-readings/{reading.pk}/correct/", loss_db="1.42", reason="digits swapped")
    reading.refresh_from_db()
    assert reading.loss_db == 1.42
    assert "digits swapped" in page_of(bench_client, f"{LIST}Q-ref/")
    typed(bench_client, f"/piece-readings/{reading.pk}/delete/", reason="another piece")
    assert not ReferenceReading.objects.exists()
    page = page_of(bench_client, f"{LIST}Q-ref/")
    assert "deleted: 1.42 dB: another piece" in page


def test_a_new_value_is_proposed_from_the_readings_since_the_last_one(keeper_client, today):
    piece = make_piece("Q-ref", agreed_on=today - timedelta(400))
    for back, losses in ((30, (1.50, 1.52)), (20, (1.48, 1.50)), (10, (1.53,))):
        for loss_db in losses:
            make_piece_reading(piece, loss_db, today - timedelta(back))
    # by hand: day means 1.51, 1.49, 1.53: 1.51 with sd 0.02; sqrt(0.02²/3 + 0.05²/5) = 0.025
    form = form_in(keeper_client.get(f"{LIST}Q-ref/agree/"))
    assert (form["agreed_loss_db"], form["uncertainty_db"]) == ("1.51", "0.025")
    assert form["basis"].startswith("mean of 5 readings on 3 days since ")
    assert typed(keeper_client, f"{LIST}Q-ref/agree/").status_code == 302
    assert list(piece.values.values_list("agreed_loss_db", "agreed_on")) == [
        (1.42, today - timedelta(400)),
        (1.51, today),
    ]
    page = page_of(keeper_client, f"{LIST}Q-ref/")
    assert "1.42 ± 0.02 dB" in page and "1.51 ± 0.025 dB" in page
    again = typed(keeper_client, f"{LIST}Q-ref/agree/", agreed_loss_db="1.6", uncertainty_db="0.02")
    assert again.status_code == 422 and "A value was agreed on that day already." in words_in(again.content.decode())


def test_four_readings_or_two_days_propose_nothing_and_another_value_may_be_typed(keeper_client, today):
    piece = make_piece("Q-ref")
    for back in (3, 3, 3, 2, 2, 2):
        make_piece_reading(piece, 1.5, today - timedelta(back))
    assert form_in(keeper_client.get(f"{LIST}Q-ref/agree/"))["agreed_loss_db"] == ""
    values = {"agreed_loss_db": "1.47", "uncertainty_db": "0.02", "basis": "certificate 12"}
    assert typed(keeper_client, f"{LIST}Q-ref/agree/", **values).status_code == 302
    assert piece.values.last().basis == "certificate 12"


def test_a_value_agreed_wrongly_is_corrected_with_a_reason(keeper_client):
    value = make_piece("Q-ref").values.get()
    address = f"/agreed-values/{value.pk}/correct/"
    assert typed(keeper_client, address, agreed_loss_db="1.24", reason="digits swapped").status_code == 302
    value.refresh_from_db()
    assert value.agreed_loss_db == 1.24
    assert "digits swapped" in page_of(keeper_client, f"{LIST}Q-ref/")


def test_a_reading_of_a_day_before_the_first_value_says_nothing(keeper_client, today):
    piece = make_piece("Q-ref", agreed_on=today)
    make_piece_reading(piece, 3.0, today - timedelta(1))
    page = page_of(keeper_client, f"{LIST}Q-ref/")
    assert "says nothing of its day" in page and "STOP" not in page


def test_a_piece_is_withdrawn_and_taken_back_into_use(keeper_client, today):
    piece = make_piece("Q-ref")
    typed(keeper_client, f"{LIST}Q-ref/withdraw/", reason="dropped")
    piece.refresh_from_db()
    assert (piece.withdrawn_on, piece.withdrawal_reason) == (today, "dropped")
    assert "withdrawn on" in page_of(keeper_client, LIST)


def test_a_stop_holds_the_verdicts_of_the_day_until_somebody_looked(bench_client, today):
    mat = make_mat(fitted=True)
    segment, piece = mat.fittings.first().segment, make_piece("Q-ref")
    make_reading(segment, 1.0, today - timedelta(30))
    make_reading(segment, 3.4, today)
    assess_pool(today)
    assert Assessment.objects.get(segment=segment).verdict == "over"
    typed(bench_client, f"{LIST}{piece}/read/", loss_db="1.80")
    row = Assessment.objects.get(segment=segment)
    assert (row.verdict, row.measured_on) == ("within", today - timedelta(30))
    day = f"/bench-days/{today}/0/"
    for address in (day, segment.get_absolute_url(), mat.get_absolute_url()):
        assert "nobody looked" in page_of(bench_client, address).lower(), address
    assert "STOP and look" in page_of(bench_client, f"/bench/{mat}/")
    assert typed(bench_client, f"{day}looked/", found="loose adapter, tightened").status_code == 302
    assert Assessment.objects.get(segment=segment).verdict == "over"
    assert "loose adapter, tightened" in page_of(bench_client, day)
    assert typed(bench_client, f"{day}looked/", reason="it was another day").status_code == 302
    assert Assessment.objects.get(segment=segment).verdict == "within"


def test_one_instrument_alone_is_not_said_to_be_unlinked(today):
    make_reading(make_mat(fitted=True).fittings.first().segment, instrument=make_instrument())
    make_instrument("unused")
    assert unlinked_instruments(today) is None


def test_the_number_of_queries_does_not_grow_with_pieces_and_readings(keeper_client, today):
    mat, counts = make_mat("M-1", fitted=True), {}
    for number in range(1, 4):
        for _ in range(number):
            piece = make_piece()
            for back in range(3 * number):
                make_piece_reading(piece, 1.4, today - timedelta(back), instrument=make_instrument())
        for address in (LIST, piece.get_absolute_url(), "/bench/", f"/bench/{mat}/", reverse("inspections:pool")):
            with CaptureQueriesContext(connection) as queries:
                assert keeper_client.get(address).status_code == 200
            counts.setdefault(address.replace(str(piece), "*"), []).append(len(queries))
    assert {address: found for address, found in counts.items() if len(set(found[1:])) > 1} == {}
