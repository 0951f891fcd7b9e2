"""Loose cables judged one after the other: what is typed is kept at once, and answered in words."""

import re
import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_batch,
    make_batch_value,
    make_cable_type,
    make_instrument,
    make_mat,
    make_piece,
    make_piece_reading,
    make_pile,
    make_reading,
    make_segment,
    make_tester,
    set_policy_value,
)
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment, CableType, Load
from fleet.selectors.shelf import shelf_by_kind
from inspections.batches.selectors import batch_page, lots_of, pages_of
from inspections.batches.services import correct_batch, end_batch, enter_value, strike_value
from inspections.bench.services import void_reading
from inspections.deleting.load_selectors import taking_back
from inspections.models import Batch, BatchValue, Instrument, Measurement
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch():
    """2 m of a cable that loses 1.17 dB when it is fresh, by length and cable type."""
    return make_batch("B-2026-1", instrument=make_instrument("bridge", 0.066))


def typed(client, batch, loss, **more):
    data = {"token": uuid.uuid4(), "loss": loss, **more}
    return client.post(f"/batches/{batch}/read/", data, HTTP_HX_REQUEST="true")


def answers(batch, today):
    return {cable.number: cable.answer for cable in batch_page(batch, today).cables}


def text_of(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_each_value_is_kept_at_once_and_answered(bench_client, batch, today):
    assert "Cable 1: 1.17 dB fit for stock" in text_of(typed(bench_client, batch, "1,17"))
    assert "Cable 2: 3.40 dB not" in text_of(typed(bench_client, batch, "3.4"))
    said = text_of(typed(bench_client, batch, "2.95"))
    assert "Cable 3: 2.95 dB measure again" in said and "1 fit, 1 not, 1 to measure again" in said
    assert list(batch.values.values_list("cable", "loss_db")) == [(1, 1.17), (2, 3.4), (3, 2.95)]


def test_without_a_script_a_value_is_a_page_whose_field_has_the_focus(bench_client, batch):
    sent = bench_client.post(f"/batches/{batch}/read/", {"token": uuid.uuid4(), "loss": "1.2"}, follow=True)
    page = sent.content.decode()
    assert sent.redirect_chain and "1 fit, 0 not" in text_of(sent)
    assert re.search(r'<input[^>]*name="loss"[^>]*autofocus', page)


def test_a_double_enter_stores_one(bench_client, batch):
    token = uuid.uuid4()
    for _ in range(2):
        assert typed(bench_client, batch, "1.2", token=token).status_code == 200
    assert batch.values.count() == 1


@pytest.mark.parametrize("words", ["1.3x", "w", "9: 1.2", "250", ""])
def test_what_is_no_value_is_refused_and_stays_typed(bench_client, batch, words):
    refused = typed(bench_client, batch, words)
    assert refused.status_code == 422 and not batch.values.exists()
    assert ("field-error" in refused.content.decode() and f'value="{words}"' in refused.content.decode()) or not words


def test_a_value_that_is_very_high_is_asked_about(bench_client, batch):
    assert "Yes, 29 dB was measured" in text_of(typed(bench_client, batch, "29"))
    assert typed(bench_client, batch, "29", sure="29").status_code == 200
    assert batch.values.get().loss_db == 29


# --- answers


def test_one_unlike_a_fresh_one_is_measured_again_and_not_when_it_is_so_twice(bench_client, batch, today):
    typed(bench_client, batch, "1.9")
    assert answers(batch, today) == {1: "measure again"}
    typed(bench_client, batch, "1: 1.9")
    assert answers(batch, today) == {1: "not"}


def test_a_connector_that_was_loose_the_first_time_is_fit_the_second(bench_client, batch, today):
    typed(bench_client, batch, "1.9")
    typed(bench_client, batch, "1: 1.2")
    assert answers(batch, today) == {1: "fit for stock"}
    assert list(batch.values.values_list("attempt", "loss_db")) == [(1, 1.9), (2, 1.2)]


def test_one_that_the_limit_lets_pass_stands_out_among_its_own(batch, today):
    for cable, loss_db in enumerate([1.20, 1.21, 1.19, 1.20, 1.45, 0.6], 1):
        make_batch_value(batch, loss_db, cable)
    page = batch_page(batch, today)
    assert {cable.number: cable.unlike for cable in page.cables if cable.unlike} == {
        5: "reads more than the others of its batch",
        6: "reads less than the others of its batch",
    }
    assert (page.fit, page.unfit, page.again) == (4, 0, 2)


def test_used_cables_are_judged_by_the_limit_alone_and_it_is_said(bench_client, today):
    used = make_batch(holds="from a box", instrument=make_instrument("bridge", 0.066))
    for cable, loss_db in enumerate([1.2, 1.2, 1.2, 1.2, 1.2, 2.6, 3.3], 1):
        make_batch_value(used, loss_db, cable)
    assert list(answers(used, today).values()) == ["not", *["fit for stock"] * 6]
    assert "Used cables are judged by the limit alone" in text_of(bench_client.get(f"/batches/{used}/"))


def test_what_fresh_ones_of_that_kind_read_counts_before_what_is_calculated(batch, today):
    mat = make_mat("M-1")
    for position in range(1, 6):
        segment = make_segment(2.0, cable_type=batch.cable_type)
        fit(segment, mat, position, today)
        make_reading(segment, 1.8, today, taken="at fitting")
    make_batch_value(batch, 1.9)
    page = batch_page(batch, today)
    assert page.fresh.ones == 5 and page.fresh.expected_db == pytest.approx(1.8)
    assert page.cables[0].answer == "fit for stock"


def test_a_pocket_analyser_that_shows_twice_the_loss_finds_the_same_cables_fit(bench_client, today):
    pocket = make_instrument("pocket", None, kind="one-port")
    batch = make_batch(instrument=pocket, method="far end open")
    said = text_of(typed(bench_client, batch, "2.4"))
    assert "Cable 1: 2.40 dB fit for stock 1.20 ± 0.20 dB" in said


def test_a_go_no_go_tester_answers_by_one_word(bench_client, today):
    batch = make_batch(instrument=make_tester(3.0))
    for word in ("w", "o"):
        typed(bench_client, batch, word)
    assert answers(batch, today) == {1: "fit for stock", 2: "not"}
    assert typed(bench_client, batch, "1.3").status_code == 422


def test_a_tester_set_above_the_limit_lets_nothing_pass(bench_client, today):
    batch = make_batch(instrument=make_tester(4.0))
    typed(bench_client, batch, "w")
    assert "the tester is not set to a limit that decides" in text_of(bench_client.get(f"/batches/{batch}/"))
    assert answers(batch, today) == {1: "measure again"}


def test_the_limit_in_force_decides(batch, keeper, today):
    make_batch_value(batch, 1.2)
    set_policy_value("loss_limit_db", 1.0, by=keeper, on=today)
    assert answers(batch, today) == {1: "not"}


# --- struck, ended, on the shelf


def test_a_struck_value_stays_with_its_reason_and_counts_no_longer(bench_client, batch, bench_hand, today):
    value = make_batch_value(batch, 3.4)
    make_batch_value(batch, 1.2, 2)
    page = f"/batches/{batch}/values/{value.pk}/strike/"
    sent = bench_client.post(page, {"row": value.pk, "version": 1, "reason": "wrong box"}, follow=True)
    assert "struck" in text_of(sent) and "wrong box" in text_of(sent)
    assert answers(batch, today) == {1: "", 2: "fit for stock"}
    assert value.history.latest().history_user == bench_hand


def test_what_is_fit_and_has_a_serial_is_on_the_shelf_when_the_batch_ends(bench_client, batch, today):
    typed(bench_client, batch, "1.2", serial="X-1")
    typed(bench_client, batch, "3.4", serial="X-2")
    typed(bench_client, batch, "1.3")
    said = text_of(bench_client.get(f"/batches/{batch}/end/"))
    assert "1 with a serial goes on the shelf" in said
    assert "1 fit without a serial is counted here. The shelf does not count it yet." in said
    ended = bench_client.post(f"/batches/{batch}/end/", {"row": batch.pk, "version": 1}, follow=True)
    assert "1 of its cables are on the shelf now" in text_of(ended) or "1 of its cables is on" in text_of(ended)
    (segment,) = CableSegment.objects.on_shelf(today)
    assert (segment.serial, segment.lot, segment.length_m) == ("X-1", "L-7", 2.0)
    reading = Measurement.objects.get()
    assert (reading.segment, reading.loss_db, reading.reason, reading.method) == (segment, 1.2, "new", "through")
    assert "batch B-2026-1, cable 1" in text_of(bench_client.get("/cables/X-1/"))


def test_what_an_ended_batch_says_does_not_change_with_the_policy(bench_client, batch, keeper, today):
    for loss in ("1.2", "3.4", "1.9"):
        typed(bench_client, batch, loss)
    bench_client.post(f"/batches/{batch}/end/", {"row": batch.pk, "version": 1}, follow=True)
    before = text_of(bench_client.get(f"/batches/{batch}/print/"))
    set_policy_value("loss_limit_db", 1.0, by=keeper, on=today)
    CableType.objects.update(db_per_m_1000mhz=2)
    assert text_of(bench_client.get(f"/batches/{batch}/print/")) == before
    assert "1 fit, 1 not, 1 to measure again" in before
    assert "limit_db" not in text_of(bench_client.get(f"/batches/{batch}/"))


def test_no_value_comes_into_a_batch_that_is_ended(bench_client, batch, today):
    make_batch_value(batch)
    Batch.objects.filter(pk=batch.pk).update(ended_on=today)
    assert "was ended on" in text_of(typed(bench_client, batch, "1.2"))
    assert batch.values.count() == 1 and 'name="loss"' not in bench_client.get(f"/batches/{batch}/").content.decode()


def test_a_serial_that_exists_is_refused_by_name(bench_client, batch):
    make_segment(serial="C-00007")
    refused = text_of(typed(bench_client, batch, "1.2", serial="c-00007"))
    assert "There is a cable C-00007 in the pool already" in refused and not batch.values.exists()


def test_so_is_one_that_was_typed_in_an_open_batch(bench_client, batch):
    typed(bench_client, batch, "1.2", serial="X-1")
    other = make_batch("B-2026-9")
    assert "Cable 1 of B-2026-1 has the serial X-1 already" in text_of(typed(bench_client, other, "1.2", serial="x-1"))


def test_a_serial_that_somebody_gave_meanwhile_is_named_when_the_batch_ends(bench_client, batch):
    typed(bench_client, batch, "1.2", serial="X-1")
    make_segment(serial="X-1")
    late = bench_client.post(f"/batches/{batch}/end/", {"row": batch.pk, "version": 1})
    assert "In the pool already: X-1." in text_of(late) and Batch.objects.get().ended_on is None
    typed(bench_client, batch, "1: 1.2", serial="X-2")
    bench_client.post(f"/batches/{batch}/end/", {"row": batch.pk, "version": 1})
    assert CableSegment.objects.filter(lot="L-7").get().serial == "X-2"


def test_serials_are_numbered_on(bench_client, batch):
    make_segment(serial="C-00041")
    for _ in range(2):
        typed(bench_client, batch, "1.2", number_on="on")
    typed(bench_client, batch, "1: 1.25", number_on="on")
    assert list(batch.values.values_list("cable", "serial")) == [(1, "C-00042"), (1, ""), (2, "C-00043")]


def test_a_cable_that_a_batch_brought_is_withdrawn_and_not_deleted(keeper_client, bench_client, batch, keeper, today):
    typed(bench_client, batch, "1.2", serial="X-1")
    bench_client.post(f"/batches/{batch}/end/", {"row": batch.pk, "version": 1})
    void_reading(Measurement.objects.get(), by=keeper, on=today, reason="wrong cable")
    assert "Batch B-2026-1 names it, and stays." in text_of(keeper_client.get("/cables/X-1/delete/"))


def test_what_a_batch_names_stays_when_the_files_that_brought_it_are_taken_back(batch):
    load = Load.objects.create()
    CableType.objects.update(load=load)
    Instrument.objects.update(load=load)
    assert taking_back(load).stays == (
        "Instrument bridge stays: others use it.",
        f"Cable type {batch.cable_type} stays: others use it.",
    )


# --- begun, corrected, listed, printed


def test_a_batch_is_begun_by_saying_once_what_holds_for_all(bench_client, today):
    kind = make_cable_type("RG-58")
    said = {"holds": "new", "cable_type": kind.pk, "length_m": "2", "measured_on": today, "lot": "A"}
    begun = bench_client.post("/batches/start/", {"token": uuid.uuid4(), **said})
    assert begun.url == f"/batches/B-{today.year}-1/"
    again = bench_client.post("/batches/start/", {"token": uuid.uuid4(), **said})
    assert again.url == f"/batches/B-{today.year}-2/"


def test_an_instrument_whose_leads_are_taken_out_asks_whether_they_are(bench_client, today):
    kind, meter = make_cable_type("RG-58"), make_instrument("meter", leads_taken_out=True)
    said = {"holds": "new", "cable_type": kind.pk, "length_m": "2", "measured_on": today, "instrument": meter.pk}
    asked = bench_client.post("/batches/start/", {"token": uuid.uuid4(), **said})
    assert "Take them out, and tick that you did." in text_of(asked) and not Batch.objects.exists()
    bench_client.post("/batches/start/", {"token": uuid.uuid4(), **said, "leads_out": "on"})
    assert Batch.objects.get().instrument == meter


def test_a_wrong_length_is_corrected_and_all_are_judged_anew(bench_client, batch, today):
    make_batch_value(batch, 2.3)
    assert answers(batch, today) == {1: "measure again"}
    form = {"holds": "new", "cable_type": batch.cable_type_id, "length_m": "4", "measured_on": today}
    form |= {"instrument": batch.instrument_id, "method": "through", "row": batch.pk, "version": 1, "lot": "L-7"}
    assert bench_client.post(f"/batches/{batch}/correct/", form).status_code == 302
    assert answers(Batch.objects.get(), today) == {1: "fit for stock"}


def test_a_lot_is_counted_over_all_its_batches(batch, today):
    other = make_batch("B-2026-2", cable_type=batch.cable_type, measured_on=today - timedelta(days=1))
    make_batch("B-2026-3", cable_type=batch.cable_type, lot="M-1")
    for cable, loss_db in enumerate([1.2, 1.2, 3.4], 1):
        make_batch_value(batch, loss_db, cable)
        make_batch_value(other, loss_db, cable)
    lots = {lot.lot: (lot.fit, lot.unfit, lot.again) for lot in lots_of(pages_of(Batch.objects.all(), today))}
    assert lots == {"L-7": (4, 2, 0), "M-1": (0, 0, 0)}


def test_the_sheet_says_by_what_it_was_judged(visitor_client, batch):
    for cable, loss_db in enumerate([1.2, 1.22, 1.2, 1.19, 1.2, 3.4], 1):
        make_batch_value(batch, loss_db, cable)
    said = text_of(visitor_client.get(f"/batches/{batch}/print/"))
    assert "The pool’s loss limit: 3 dB at 900 MHz and 20 °C, standard uncertainty 0.07 dB" in said
    assert "A fresh one reads 1.17 dB (calculated from length and cable type)" in said
    assert "Median of this batch: 1.20 dB" in said and "worst 3.40 dB, of 6 with a number" in said


@pytest.mark.parametrize("page", ["/batches/", "/batches/{}/", "/batches/{}/print/", "/batches/{}/end/"])
def test_pages_ask_as_many_queries_for_many_values_as_for_one(
    page, bench_client, batch, django_assert_num_queries, today
):
    make_batch_value(batch, serial="X-0")
    bench_client.get(page.format(batch))
    with CaptureQueriesContext(
        connection,
    ) as few:
        bench_client.get(page.format(batch))
    for number in range(2, 30):
        make_batch_value(batch, 1.2, number, serial=f"X-{number}")
        make_batch_value(make_batch(), 1.2)
    with django_assert_num_queries(len(few)):
        bench_client.get(page.format(batch))


def test_two_values_of_one_attempt_cannot_be_stored(batch):
    make_batch_value(batch)
    with pytest.raises(IntegrityError), transaction.atomic():
        make_batch_value(batch, 1.4)
    assert BatchValue.objects.count() == 1


# --- what no batch may take in


def test_on_a_bench_day_that_nobody_looked_at_no_cable_is_fit(keeper, today):
    bridge = make_instrument("bridge")
    batch = make_batch(instrument=bridge)
    enter_value(batch, TypedLoss(1.2), by=keeper, serial="S-1")
    assert [cable.answer for cable in batch_page(batch, today).cables] == ["fit for stock"]
    make_piece_reading(make_piece(agreed_db=1.42), 3.0, today, instrument=bridge)
    assert [cable.answer for cable in batch_page(batch, today).cables] == ["measure again"]
    assert end_batch(batch, by=keeper, on=today) == []


def test_a_number_becomes_no_word_by_choosing_a_tester(keeper, today):
    batch = make_batch(instrument=make_instrument("bridge"))
    enter_value(batch, TypedLoss(1.2), by=keeper)
    with pytest.raises(ValidationError, match="Cable 1 reads"):
        correct_batch(batch, by=keeper, on=today, instrument=make_tester(), method="through")


def test_a_serial_that_was_struck_is_that_of_the_cable_which_has_it_now(keeper, today):
    batch = make_batch()
    wrong = enter_value(batch, TypedLoss(1.2), by=keeper, serial="S-1")
    strike_value(wrong, by=keeper, on=today, reason="the other cable")
    enter_value(batch, TypedLoss(1.2), by=keeper, serial="S-1")
    enter_value(batch, TypedLoss(1.2), by=keeper, cable=1)
    assert [cable.serial for cable in batch_page(batch, today).cables] == ["S-1", ""]
    assert [segment.serial for segment in end_batch(batch, by=keeper, on=today)] == ["S-1"]


def test_cables_of_a_batch_that_were_counted_on_the_shelf_are_counted_by_their_serials(bench_client, keeper, today):
    batch = make_batch("B-1", lot="L-7")
    pile = make_pile(batch.cable_type, batch.length_m, count=5)
    for number in (1, 2):
        enter_value(batch, TypedLoss(1.31), by=keeper, serial=f"X-{number}")
    address = "/batches/B-1/end/"
    page = bench_client.get(address)
    assert "5 such cables are counted on the shelf without a serial." in words_in(page.content.decode())
    bench_client.post(address, form_in(page))
    assert CableSegment.objects.on_shelf(today).count() == 2
    assert shelf_by_kind(today)[pile.cable_type.name, pile.length_m] == 5
