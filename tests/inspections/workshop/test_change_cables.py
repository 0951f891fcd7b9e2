"""The cables of a mat changed in one act: fittings, new segments, readings, faults, and what is due afterwards."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_fault, make_instrument, make_plain_mat, make_plain_segment

from fleet.models import CableSegment, Fault, Fitting
from fleet.services.confirmation import WantsConfirmation
from fleet.services.fittings import TakenOut
from inspections.models import Assessment, Measurement
from inspections.validators import TypedLoss
from inspections.workshop.change_services import Bench, Change, GoesIn, change_cables

pytestmark = pytest.mark.django_db
NEW = GoesIn()


@pytest.fixture
def mat():
    return make_plain_mat(fitted=True)


def held(mat, position):
    return mat.fittings.select_related("segment__cable_type").get(position=position, removed_on=None)


def change(mat, position, new=NEW, **values):
    return Change(position, new, TakenOut(held(mat, position), "worn", "thrown away"), **values)


@pytest.fixture
def done(mat, keeper, today):
    """Changes cables of the mat as a person does; `ticked` answers every question."""

    def act(*changes, ticked=False, **values):
        given = {"by": keeper, "on": today, "changed_on": today, "confirmed": "", **values}
        try:
            return change_cables(mat, changes, **given)
        except WantsConfirmation as asked:
            if not ticked:
                raise
            return change_cables(mat, changes, **given | {"confirmed": asked.fingerprint})

    return act


def test_new_cables_without_serials_get_numbers_that_are_marked_as_ours(mat, done):
    make_plain_segment(serial="C-90041")
    changed = done(change(mat, 1, GoesIn(lot="B7")), change(mat, 2))
    first, second = held(mat, 1).segment, held(mat, 2).segment
    assert changed.given == {1: "C-90042", 2: "C-90043"} == {1: first.serial, 2: second.serial}
    assert (first.serial_basis, first.lot, first.length_m) == ("given", "B7", 1.0)
    assert first.cable_type == mat.design.positions.get(number=1).cable_type


def test_readings_of_new_and_old_are_kept_with_day_name_and_instrument(mat, done, today):
    old, bridge = held(mat, 1).segment, make_instrument("bridge")
    bench = Bench(instrument=bridge, measured_by="Tam")
    changed = done(change(mat, 1, new_loss=TypedLoss(0.7), old_loss=TypedLoss(3.4)), bench=bench)
    kept = Measurement.objects.order_by("loss_db").values_list(
        "segment__serial", "loss_db", "taken", "reason", "measured_on", "instrument", "measured_by"
    )
    head = (today, bridge.pk, "Tam")
    assert list(kept) == [
        (held(mat, 1).segment.serial, 0.7, "at fitting", "new", *head),
        (old.serial, 3.4, "as found", "routine", *head),
    ]
    assert changed.readings == 2


def test_the_new_cable_is_assessed_with_its_reading_and_the_old_one_no_more(mat, done):
    old = held(mat, 1).segment
    done(change(mat, 1, new_loss=TypedLoss(0.7)))
    assert Assessment.objects.get(segment=held(mat, 1).segment).reference_loss_db == 0.7
    assert not Assessment.objects.filter(segment=old).exists()


def test_faults_of_its_cables_end_and_those_that_are_named(mat, done, today):
    make_fault(mat, position=1, reported_on=today)
    named = make_fault(mat, "one of the cables", None, today, number=2)
    make_fault(mat, "cover or fold", None, today, number=3)
    done(change(mat, 1), faults=[named])
    assert list(Fault.objects.filter(ended_on=today, end_reason="change").values_list("number", flat=True)) == [1, 2]


def test_a_cable_that_reads_more_than_a_fresh_one_is_refused_with_the_ways_out_and_nothing_is_kept(mat, done):
    with pytest.raises(ValidationError, match="Clean and measure again, take another cable"):
        done(change(mat, 1, new_loss=TypedLoss(2.0)), change(mat, 2))
    assert (Measurement.objects.count(), Fitting.objects.count(), CableSegment.objects.count()) == (0, 4, 4)


def test_kept_with_a_reason_it_goes_in_and_the_reason_stays_with_its_reading(mat, done):
    done(change(mat, 1, new_loss=TypedLoss(2.0), kept_because="only one left"))
    assert held(mat, 1).segment.measurements.get().note == "kept: only one left"


def test_a_serial_that_is_not_on_record_is_asked_about_and_then_added_as_its_own(mat, done):
    with pytest.raises(WantsConfirmation) as asked:
        done(change(mat, 1, GoesIn(serial="N-10")))
    assert "there is no cable N-10 in the register yet" in asked.value.points[0]
    assert not CableSegment.objects.filter(serial="N-10").exists()
    done(change(mat, 1, GoesIn(serial="N-10")), ticked=True)
    assert held(mat, 1).segment.serial_basis == "own"


def test_a_cable_that_stands_elsewhere_is_asked_about_and_then_comes_out_there(mat, done, today):
    other = make_plain_mat(mat.design)
    segment = make_plain_segment(serial="C-MOVES")
    fit(segment, other, 3)
    with pytest.raises(WantsConfirmation) as asked:
        done(change(mat, 1, GoesIn(segment)))
    assert f"C-MOVES is in {other} position 3" in asked.value.points[0]
    done(change(mat, 1, GoesIn(segment)), ticked=True)
    assert (held(mat, 1).segment, other.fittings.get().removed_on) == (segment, today)


def test_what_was_done_last_year_is_told_with_a_rough_day_but_without_readings(mat, done, today):
    then = today - timedelta(days=200)
    with pytest.raises(ValidationError, match="A reading needs its day"):
        done(change(mat, 1, new_loss=TypedLoss(0.7)), changed_on=then, basis="about")
    done(change(mat, 1), changed_on=then, basis="about")
    assert (held(mat, 1).fitted_on, held(mat, 1).fitted_basis) == (then, "about")


def test_a_day_ahead_and_no_position_at_all_are_refused(mat, done, today):
    with pytest.raises(ValidationError, match="after"):
        done(change(mat, 1), changed_on=today + timedelta(days=1))
    with pytest.raises(ValidationError, match="Tick at least one position"):
        done()


def test_what_somebody_changed_meanwhile_is_not_changed_again(mat, done):
    late = change(mat, 1)
    done(change(mat, 1))
    with pytest.raises(ValidationError):
        done(late)
    assert mat.fittings.filter(position=1).count() == 2


def test_one_that_was_in_a_mat_before_is_measured_but_not_as_a_new_one(mat, done, today):
    used = make_plain_segment(serial="C-USED")
    fit(used, make_plain_mat(mat.design), 3, today - timedelta(days=90), removed_on=today - timedelta(days=30))
    done(change(mat, 1, GoesIn(used), new_loss=TypedLoss(0.8)), change(mat, 2, new_loss=TypedLoss(0.7)))
    kept = Measurement.objects.order_by("loss_db").values_list("taken", "reason")
    assert list(kept) == [("at fitting", "new"), ("at fitting", "routine")]
