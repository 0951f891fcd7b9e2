"""What is read as a cable is fitted hangs on instrument and method, as at the bench."""

import re
import uuid

import pytest
from factories import make_instrument, make_plain_mat, make_tester
from page_words import words_in

from inspections.models import Measurement

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(db):
    return make_plain_mat(number="M-1")


def form_of(today, instrument, method, loss, **values):
    """A new cable in position 1, which was empty."""
    key = str(instrument.pk)
    head = {"changed_on": today.isoformat(), "basis": "known", "goes": "thrown away", "measured_by": "Ida"}
    row = {"change-1": "on", "new-1": "new", "loss-1": loss, "seen-1": "empty"}
    seen = {f"seen-{number}": "empty" for number in range(2, 5)}
    how = {"instrument": key, "method_for": key, "method": method}
    return {"token": uuid.uuid4(), **head, **how, **row, **seen, **values}


def change(client, form):
    return client.post("/mats/M-1/change/", form)


@pytest.mark.parametrize("method", ["", "through"])
def test_one_port_does_not_read_a_new_cable_through(method, bench_client, mat, today):
    pocket = make_instrument("pocket", None, kind="one-port")
    answer = change(bench_client, form_of(today, pocket, method, "1.4"))
    assert (answer.status_code, Measurement.objects.count()) == (422, 0)
    assert "An analyser with one port sees one end only." in words_in(answer.content.decode())


def test_half_of_what_one_port_shows_is_judged_and_the_shown_value_kept(bench_client, mat, today):
    pocket = make_instrument("pocket", None, kind="one-port")
    form = form_of(today, pocket, "far end open", "1.4")
    page = words_in(bench_client.post("/mats/M-1/change/verdicts/", form | {"row": "1"}).content.decode())
    assert "1.40 shown, 0.70 dB loss: within 0.70 ± 0.20 dB" in page
    assert change(bench_client, form).status_code == 302
    reading = Measurement.objects.get()
    assert (reading.loss_db, reading.method, reading.cable_loss_db, reading.taken) == (
        1.4,
        "far end open",
        0.7,
        "at fitting",
    )


def test_a_tester_says_within_and_no_number(bench_client, mat, today):
    tester = make_tester(3.0)
    refused = change(bench_client, form_of(today, tester, "through", "0.7"))
    assert "0.7 is a number, and the tester shows none." in words_in(refused.content.decode())
    assert change(bench_client, form_of(today, tester, "through", "w")).status_code == 302
    assert Measurement.objects.get().go_no_go == "within"


def test_one_that_a_tester_calls_over_does_not_go_in(bench_client, mat, today):
    answer = change(bench_client, form_of(today, make_tester(3.0), "through", "o"))
    assert (answer.status_code, Measurement.objects.count()) == (422, 0)
    assert "Not good enough to go in" in answer.content.decode()


def test_a_change_without_a_reading_asks_for_no_method(bench_client, mat, today):
    pocket = make_instrument("pocket", None, kind="one-port")
    assert change(bench_client, form_of(today, pocket, "", "")).status_code == 302


def test_the_bench_goes_on_with_the_method_of_the_change(bench_client, mat, today):
    pocket = make_instrument("pocket", None, kind="one-port")
    change(bench_client, form_of(today, pocket, "far end open", "1.4"))
    page = bench_client.get("/bench/M-1/").content.decode()
    assert re.search(r'name="method" value="far end open"[^>]*checked', page)
