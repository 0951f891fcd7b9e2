"""A reading far from what was expected is read again; a cable that moves when flexed is reported as a fault."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from factories import FITTED_ON, make_cable_type, make_design, make_fault, make_mat, make_reading
from page_words import words_in

from fleet.models import Fault
from fleet.models.segments import ASSUMED_CABLE
from inspections.assessment.services import reassess
from inspections.bench import services
from inspections.models import Assessment, Measurement

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    """Each of its cables read 1.4 dB half a year ago, with the uncertainty of 0.15 dB that the policy names."""
    mat = make_mat("M-017", fitted=True)
    for segment in segments_of(mat):
        make_reading(segment, 1.4, today - timedelta(180))
    reassess(None, on=today)
    return mat


@pytest.fixture
def new_mat(today):
    """Of 1 m cables whose type says 0.59 dB at 900 MHz; never measured."""
    return make_mat("M-018", make_design(lengths_m=[1.0] * 4), fitted=True)


def segments_of(mat):
    return [fitting.segment for fitting in mat.fittings.order_by("position").select_related("segment")]


def address(mat):
    return reverse("inspections:bench-mat", args=[mat.number])


def form_of(mat, today, *texts, **more):
    """Texts: as found, in order of the positions; `again1="2.8"` and the like go to the first cable."""
    segments = segments_of(mat)
    losses = {f"found-{segment.pk}": text for segment, text in zip(segments, texts, strict=False)}
    of_first = {f"{kind}-{segments[0].pk}": text for kind, text in more.items()}
    head = {"measured_on": today.isoformat(), "method": "through", "measured_by": "Ida", "reason": "routine"}
    return {"token": uuid.uuid4(), **head, **losses, **of_first}


def said(client, mat, form):
    one = segments_of(mat)[0]
    url = reverse("inspections:bench-verdicts", args=[mat.number])
    page = client.post(url, form | {"row": str(one.pk)}).content.decode()
    return words_in(re.search(rf'#verdict-{one.pk}">(.*?)</div>\s*<div hx-swap-oob', page, re.DOTALL).group(1))


def kept(mat):
    readings = Measurement.objects.filter(segment=segments_of(mat)[0], measured_by="Ida").order_by("repeat")
    return list(readings.values_list("repeat", "loss_db", "taken"))


def tick_in(answer):
    return re.search(r'name="confirmed" value="([^"]+)"', answer.content.decode())[1]


@pytest.mark.parametrize(("typed", "asked"), [("1.9", False), ("2.1", True), ("0.7", True)])
def test_a_reading_far_from_its_own_earlier_ones_asks_to_be_connected_anew(typed, asked, bench_client, mat, today):
    """0.15 dB of it and of the earlier one: three times their root of squares are 0.64 dB."""
    answer = bench_client.post(address(mat), form_of(mat, today, typed))
    assert answer.status_code == (422 if asked else 302)
    assert len(kept(mat)) == (0 if asked else 1)
    if asked:
        told = f"Position 1: {typed} dB. By its own readings 1.40 dB was expected. Connect it anew and read again"
        assert told in words_in(answer.content.decode())
        assert f'name="again1-{segments_of(mat)[0].pk}"' in answer.content.decode()


def test_beside_the_field_it_is_said_at_once(bench_client, mat, today):
    says = said(bench_client, mat, form_of(mat, today, "2.1"))
    assert "0.70 dB more than expected (1.40 dB, by its own readings). Connect it anew and read again" in says


def test_three_reconnections_are_kept_as_repeats_of_the_day(bench_client, mat, today):
    again = {"again1": "2.0", "again2": "1.5", "again3": "1.4", "cleaned": "1.4"}
    form = form_of(mat, today, "2.1", **again)
    assert "Highest and lowest lie 0.70 dB apart: look at its connectors." in said(bench_client, mat, form)
    assert bench_client.post(address(mat), form).status_code == 302
    found = [(1, 2.1, "as found"), (2, 2.0, "as found"), (3, 1.5, "as found"), (4, 1.4, "as found")]
    assert kept(mat) == [*found, (5, 1.4, "after cleaning")]


def test_the_middle_one_of_the_repeats_is_told(bench_client, mat, today):
    again = {"again1": "3.6", "again2": "1.5", "again3": "1.4"}
    answer = bench_client.post(address(mat), form_of(mat, today, "3.5", **again), follow=True)
    # of 3.5, 3.6, 1.5 and 1.4 dB the median is 2.5 dB
    assert Assessment.objects.get(segment=segments_of(mat)[0]).reference_loss_db == 2.5
    assert "4 readings saved. 1 within." in words_in(answer.content.decode())


def test_without_them_it_is_saved_once_that_is_said_and_another_number_asks_again(bench_client, mat, today):
    tick = tick_in(bench_client.post(address(mat), form_of(mat, today, "2.1")))
    other = bench_client.post(address(mat), form_of(mat, today, "2.4") | {"confirmed": tick})
    assert (other.status_code, kept(mat)) == (422, [])
    assert bench_client.post(address(mat), form_of(mat, today, "2.1") | {"confirmed": tick}).status_code == 302
    assert kept(mat) == [(1, 2.1, "as found")]


def test_at_its_first_session_a_cable_is_compared_with_a_fresh_one(bench_client, new_mat, today):
    answer = bench_client.post(address(new_mat), form_of(new_mat, today, "0.6", "1.9"))
    page = words_in(answer.content.decode())
    questions = "Were the leads taken out of it? Is one end open? Is it this cable?"
    assert answer.status_code == 422
    assert f"Position 2: 1.9 dB. A fresh one of its length and type reads 0.59 dB. {questions}" in page
    assert "Position 1: 0.6 dB." not in page


def test_what_nobody_knows_is_not_asked_about(bench_client, today):
    unknown = make_mat("M-1", make_design(cable_type=make_cable_type(ASSUMED_CABLE)), fitted=True)
    assert bench_client.post(address(unknown), form_of(unknown, today, "2.9")).status_code == 302


def test_it_reckons_with_the_loss_and_not_with_what_was_shown(bench_client, mat, today):
    form = form_of(mat, today, "2.8") | {"method": "far end open"}
    assert bench_client.post(address(mat), form).status_code == 302
    asked = bench_client.post(address(mat), form_of(mat, today, "4.9") | {"method": "far end open"})
    assert "Position 1: 4.9 dB shown, 2.45 dB loss." in words_in(asked.content.decode())


def test_a_cable_that_moves_is_reported_in_its_position_on_the_day(bench_client, bench_hand, mat, today):
    day = today - timedelta(2)
    form = form_of(mat, day, "1.5", moves="connector")
    answer = bench_client.post(address(mat), form, follow=True)
    assert "It moves when flexed: a fault is open at position 1." in words_in(answer.content.decode())
    fault = Fault.objects.get()
    assert (fault.mat, fault.position, fault.place, fault.what) == (mat, 1, "connector", services.MOVES)
    assert (fault.reported_on, fault.recorded_by) == (day, bench_hand)
    assert Assessment.objects.get(segment=segments_of(mat)[0]).damage_due_on == day


def test_the_same_fault_is_not_reported_twice_while_it_is_open(bench_client, mat, today):
    for typed in ("1.5", "1.6"):
        bench_client.post(address(mat), form_of(mat, today, typed, moves="cable"))
    assert Fault.objects.count() == 1
    bench_client.post(address(mat), form_of(mat, today, "1.5", moves="connector"))
    assert set(Fault.objects.values_list("place", flat=True)) == {"cable", "connector"}
    Fault.objects.update(ended_on=today, end_reason="repair")
    make_fault(mat, place="cable", what="crushed", reported_on=FITTED_ON + timedelta(9))
    bench_client.post(address(mat), form_of(mat, today, "1.5", moves="cable"))
    assert Fault.objects.filter(place="cable", what=services.MOVES, ended_on=None).count() == 1


def test_the_worst_value_belongs_to_a_cable_that_moves(bench_client, mat, today):
    answer = bench_client.post(address(mat), form_of(mat, today, "", "1.4", moves="cable"))
    assert (answer.status_code, Fault.objects.count()) == (422, 0)
    assert "Type the worst value that it showed while you flexed it." in words_in(answer.content.decode())


def test_readings_and_fault_are_kept_together_or_not_at_all(bench_client, mat, today, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(services, "report_fault", fail)
    with pytest.raises(RuntimeError):
        bench_client.post(address(mat), form_of(mat, today, "1.5", moves="cable"))
    assert (kept(mat), Fault.objects.count()) == ([], 0)


def test_the_same_form_sent_twice_keeps_its_repeats_and_its_fault_once(bench_client, mat, today):
    form = form_of(mat, today, "2.1", again1="2.0", again2="2.0", again3="2.2", moves="cable")
    for _ in range(2):
        assert bench_client.post(address(mat), form).status_code == 302
    assert (len(kept(mat)), Fault.objects.count()) == (4, 1)
