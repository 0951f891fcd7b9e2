"""A mat or a cable that never was is deleted as long as nothing stands on it; the trail keeps what it said."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import (
    fit,
    make_fault,
    make_note,
    make_photo,
    make_plain_mat,
    make_plain_segment,
    make_reading,
)
from invariants import broken

from fleet.figures import short_day
from fleet.models import CableSegment, Event, FaultPhoto, Fitting, Mat, MatDay, Note, UsageEvent
from fleet.selectors.mats import trail_of_mat
from fleet.services.events import add_event
from fleet.services.fittings import fit_segment
from fleet.services.register import add_segment
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event
from fleet.services.usual_use import say_usual_use
from inspections.assessment.services import assess_pool
from inspections.bench.services import void_reading
from inspections.deleting.selectors import was_called
from inspections.deleting.services import delete_fitting, delete_mat, delete_segment
from inspections.models import Assessment, Measurement
from inspections.workshop.services import raise_work_orders, withdraw_work_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def acts(keeper, today):
    return {"by": keeper, "on": today}


def refused(delete, row, acts):
    with pytest.raises(ValidationError) as refusal:
        delete(row, reason="never so", **acts)
    return " ".join(refusal.value.messages)


# --- cables


def test_a_spare_that_never_was_goes_with_its_void_readings_and_notes(acts, today):
    segment = make_plain_segment(serial="N-10")
    void_reading(make_reading(segment, measured_on=today), reason="wrong cable", **acts)
    note = make_note(segment)
    said = delete_segment(segment, reason="typed twice", **acts).follows
    assert said == (f"The void reading of {short_day(today)} goes with it.", f"Note {note} goes with it: {note.text}")
    assert not any(model.objects.exists() for model in (CableSegment, Measurement, Note))
    (entry,) = was_called("n-10")
    assert (entry.what, entry.who, entry.reason) == ("Cable N-10: deleted", "keeper", "typed twice")
    assert not broken(today)


def test_one_that_was_fitted_or_measured_or_stands_on_an_order_stays_and_says_what_to_do_first(acts, today):
    mat = make_plain_mat(number="M-1")
    fitting = fit(make_plain_segment(serial="N-10"), mat, 1, today - timedelta(5))
    reading = make_reading(fitting.segment, 0.5, today)
    assess_pool(today)
    (order,) = raise_work_orders([fitting.segment_id], **acts)
    said = refused(delete_segment, fitting.segment, acts)
    assert f"It is told to be in M-1 position 1 from {short_day(fitting.fitted_on)}. Delete that first." in said
    assert f"It was measured: N-10 on {short_day(today)}: 0.50 dB. Make that reading void first." in said
    assert f"Work order {order} names it, and stays. Withdraw the cable instead." in said
    withdraw_work_order(order, reason="never so", **acts)
    void_reading(reading, reason="never so", **acts)
    delete_fitting(fitting, reason="never so", **acts)
    assert "Withdraw the cable instead" in refused(delete_segment, fitting.segment, acts)


def test_a_cable_that_never_was_goes_with_its_only_fitting(acts, today):
    mat = make_plain_mat(number="M-1")
    segment = add_segment(**acts, serial="N-10", length_m=1.0, cable_type=mat.design.positions.first().cable_type)
    fitting = fit_segment(segment, mat, 1, fitted_on=today, **acts).fitting
    make_reading(segment, 0.5, today, taken="at fitting")
    with pytest.raises(ValidationError, match="Make that reading void first"):
        delete_fitting(fitting, cables=True, reason="typed twice", **acts)
    delete_fitting(fitting, cables=True, readings=True, reason="typed twice", **acts)
    assert not CableSegment.objects.exists() and not Measurement.objects.exists()
    assert f"N-10 in M-1 position 1 from {short_day(today)}: deleted" in [entry.what for entry in trail_of_mat(mat)]
    assert not broken(today)


# --- mats


def test_a_mat_made_out_of_a_word_goes_with_its_cables_fittings_and_usual_use(acts, today):
    real = make_plain_mat(number="M-1", fitted=True)
    say_usual_use(real, 24, **acts)
    word = make_plain_mat(real.design, number="und", fitted=True)
    say_usual_use(word, 24, **acts)
    assess_pool(today)
    make_fault(word, "whole mat", None, today, ended_on=today, end_reason="dried")
    make_note(word)
    made = CableSegment.objects.filter(fittings__mat=word)
    deletion = delete_mat(word, cables=True, reason="a word, not a mat", **acts)
    assert len(deletion.cables) == 4
    assert deletion.follows[:2] == (
        "What is told of 4 fittings goes with it.",
        "Its usual use of 12 months goes with it.",
    )
    assert list(Mat.objects.all()) == [real] and not made.exists()
    assert CableSegment.objects.count() == 4 and Assessment.objects.count() == 4
    assert not UsageEvent.objects.exclude(mat=real).exists() and not broken(today)
    assert [entry.reason for entry in was_called("UND")] == ["a word, not a mat"]


def test_events_that_only_stood_for_its_usual_use_go_too(acts, today):
    mat = make_plain_mat(number="und")
    say_usual_use(mat, 24, **acts)
    delete_mat(mat, reason="a word", **acts)
    assert not Event.objects.exists()


def test_its_cables_stay_as_spares_where_nobody_says_otherwise_and_moved_ones_are_back(acts, today):
    real = make_plain_mat(number="M-1", fitted=True, fitted_on=today - timedelta(99))
    twin = make_plain_mat(real.design, number="M1")
    assess_pool(today)
    moved = real.fittings.get(position=2).segment
    fit_segment(moved, twin, 2, fitted_on=today, move=True, **acts)
    new = make_plain_segment(serial="N-1")
    fit_segment(new, twin, 1, fitted_on=today, **acts)
    deletion = delete_mat(twin, reason="the same as M-1", **acts)
    assert deletion.follows[0] == f"{moved} is in M-1 position 2 again." and deletion.cables == (new,)
    assert Fitting.objects.get(segment=moved).removed_on is None
    assert list(CableSegment.objects.on_shelf(today)) == [new] and not broken(today)


def test_cables_of_which_something_else_is_known_do_not_go_with_it(acts, today):
    mat = make_plain_mat(fitted=True)
    measured, elsewhere, *rest = [fitting.segment for fitting in mat.fittings.order_by("position")]
    make_reading(measured, 0.5, today)
    fit(elsewhere, make_plain_mat(), 1, today - timedelta(4000), removed_on=today - timedelta(3000))
    assess_pool(today)
    went = delete_mat(mat, cables=True, reason="never so", **acts).cables
    assert sorted(map(str, went)) == sorted(map(str, rest))
    assert set(CableSegment.objects.all()) == {measured, elsewhere} and not broken(today)


def test_photos_of_a_closed_fault_go_with_the_mat(acts, today):
    mat = make_plain_mat(number="M-9")
    make_photo(make_fault(mat, "wet", None, today, ended_on=today, end_reason="dried"))
    assert delete_mat(mat, reason="never was", **acts).follows == (
        f"The closed fault of {short_day(today)} (wet) goes with it, and so does its photo.",
    )
    assert not FaultPhoto.objects.exists() and FaultPhoto.history.filter(history_type="-").exists()


def test_one_with_events_open_faults_or_orders_stays_and_says_what_to_do_first(acts, today):
    mat = make_plain_mat(number="M-1", fitted=True)
    event = add_event(by=acts["by"], name="Hill run", starts_on=today)
    log_event(event, {mat: UsageValues("went")}, **acts)
    make_fault(mat, "whole mat", None, today)
    assess_pool(today)
    (order,) = raise_work_orders([mat.fittings.first().segment_id], **acts)
    said = refused(delete_mat, mat, acts)
    assert f"{event}: went. Say there that it was called off, or delete that event." in said
    assert f"A fault is open since {short_day(today)}: whole mat. Close that first." in said
    assert f"Work order {order} was raised for it, and stays. Withdraw the mat instead." in said
    assert Mat.objects.exists() and MatDay.objects.exists()


def test_one_from_which_a_cable_was_moved_on_stays_until_that_is_deleted(acts, today):
    mat, other = make_plain_mat(fitted=True, fitted_on=today - timedelta(9)), make_plain_mat(number="M-2")
    moved = mat.fittings.get(position=1).segment
    fitting = fit_segment(moved, other, 1, fitted_on=today, move=True, **acts).fitting
    assert f"{moved} was moved from it to M-2 position 1. Delete that fitting first." in refused(delete_mat, mat, acts)
    delete_fitting(fitting, reason="never so", **acts)
    delete_mat(mat, cables=True, reason="never so", **acts)
    assert not broken(today)


def test_what_was_deleted_is_in_no_file_and_may_be_entered_again(acts, today):
    mat = make_plain_mat(number="und", fitted=True)
    delete_mat(mat, cables=True, reason="a word", **acts)
    make_plain_mat(mat.design, number="und")
    assert was_called("und") and not broken(today)
