"""Faults seen on a mat: reported, ended, corrected; and what each does to what is due."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_fault, make_mat, make_segment

from fleet.choices import FaultEnd, FaultPlace
from fleet.models import Fault
from fleet.selectors.faults import faults_of_segment
from fleet.services.faults import correct_fault, end_fault, report_fault
from inspections.models import Assessment

ON = date(2026, 9, 30)
SEEN = date(2026, 9, 20)


@pytest.fixture
def mat(db):
    return make_mat("M-017", fitted=True)


def report(mat, keeper, place=FaultPlace.CABLE, position=1, **values):
    values = {"reported_on": SEEN, "what": "crushed by a barrow", **values}
    return report_fault(mat, by=keeper, on=ON, place=place, position=position, **values)


def assessed(mat, position=1):
    return Assessment.objects.get(mat=mat, position=position)


def test_a_reported_cable_fault_makes_its_cable_due_from_that_day(mat, keeper):
    report(mat, keeper)
    assert (assessed(mat).damage_due_on, assessed(mat).status) == (SEEN, "change now")


@pytest.mark.parametrize("how", [FaultEnd.REPAIR, FaultEnd.NOTHING_FOUND])
def test_a_fault_ended_by_a_look_or_a_repair_is_damage_no_longer(mat, keeper, how):
    fault = report(mat, keeper)
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=how)
    assert assessed(mat).damage_due_on is None


def test_what_is_wet_is_free_to_go_once_it_has_dried(mat, keeper):
    fault = report(mat, keeper, FaultPlace.WHOLE_MAT, None, what="wet")
    assert list(Fault.objects.holding_back(ON)) == [fault]
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.DRIED)
    assert list(Fault.objects.holding_back(ON)) == []


@pytest.mark.parametrize("place", [FaultPlace.CABLE, FaultPlace.CONNECTOR])
def test_a_cable_or_connector_is_not_mended_by_drying(mat, keeper, place):
    fault = report(mat, keeper, place)
    dried = {"by": keeper, "on": ON, "ended_on": ON, "end_reason": FaultEnd.DRIED}
    for act in (end_fault, correct_fault):
        with pytest.raises(ValidationError, match=f"A {place} is not mended by drying") as refused:
            act(fault, **dried)
        assert list(refused.value.error_dict) == ["end_reason"]
    fault.refresh_from_db()
    assert fault.ended_on is None


def test_a_fault_that_dried_is_not_corrected_to_a_cables(mat, keeper):
    fault = report(mat, keeper, FaultPlace.COVER, None)
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.DRIED)
    with pytest.raises(ValidationError, match="not mended by drying"):
        correct_fault(fault, by=keeper, on=ON, place=FaultPlace.CABLE, position=1)


def test_a_cable_is_not_said_to_be_changed_while_the_same_one_is_there(mat, keeper):
    fault = report(mat, keeper)
    with pytest.raises(ValidationError, match="Fit the new one"):
        end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.CHANGE)
    fault.refresh_from_db()
    assert fault.ended_on is None


def test_faults_of_one_day_are_numbered(mat, keeper):
    numbers = [report(mat, keeper, place, None).number for place in (FaultPlace.COVER, FaultPlace.WHOLE_MAT)]
    assert numbers == [1, 2]


@pytest.mark.parametrize(
    ("place", "position", "day", "sentence"),
    [
        (FaultPlace.CABLE, None, SEEN, "Say which position"),
        (FaultPlace.CONNECTOR, 9, SEEN, "held no cable"),
        (FaultPlace.CABLE, 1, date(2025, 1, 1), "held no cable"),
        (FaultPlace.COVER, 9, SEEN, "has no position 9"),
        (FaultPlace.COVER, None, date(2026, 10, 1), "after today"),
    ],
)
def test_a_report_that_cannot_be_is_refused_with_what_to_do(mat, keeper, place, position, day, sentence):
    with pytest.raises(ValidationError, match=sentence):
        report(mat, keeper, place, position, reported_on=day)
    assert not Fault.objects.exists()


def test_a_fault_ends_once_and_not_before_it_was_reported(mat, keeper):
    fault = report(mat, keeper, FaultPlace.COVER, None)
    with pytest.raises(ValidationError, match="closed before that"):
        end_fault(fault, by=keeper, on=ON, ended_on=date(2026, 9, 1), end_reason=FaultEnd.REPAIR)
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.REPAIR)
    with pytest.raises(ValidationError, match="already"):
        end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.REPAIR)


def test_a_fault_corrected_to_another_position_is_the_damage_of_that_cable(mat, keeper):
    fault = report(mat, keeper)
    correct_fault(fault, by=keeper, on=ON, reason="counted from the wrong end", position=3)
    assert assessed(mat, 1).damage_due_on is None
    assert assessed(mat, 3).damage_due_on == SEEN


def test_an_end_written_by_mistake_is_taken_back(mat, keeper):
    fault = report(mat, keeper)
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.REPAIR)
    with pytest.raises(ValidationError, match="write both, or neither"):
        correct_fault(fault, by=keeper, on=ON, ended_on=None)
    fault.refresh_from_db()
    correct_fault(fault, by=keeper, on=ON, ended_on=None, end_reason="")
    assert assessed(mat).damage_due_on == SEEN


def test_a_fault_reported_on_the_day_of_the_change_was_of_the_old_cable(db):
    mat, old, new = make_mat("M-018"), make_segment(0.6), make_segment(0.6)
    fit(old, mat, 1, date(2025, 1, 1), SEEN)
    fit(new, mat, 1, SEEN)
    fault = make_fault(mat, "cable", 1, SEEN, ended_on=SEEN, end_reason=FaultEnd.CHANGE)
    assert (faults_of_segment(old), faults_of_segment(new)) == ([fault], [])


@pytest.mark.parametrize("place", [FaultPlace.ONE_OF_CABLES, FaultPlace.WET])
def test_one_of_the_cables_or_wet_holds_the_mat_back_and_is_no_damage_of_a_cable(mat, keeper, place):
    fault = report(mat, keeper, place, position=None)
    assert list(Fault.objects.holding_back(ON)) == [fault]
    assert not Assessment.objects.filter(mat=mat).exclude(damage_due_on=None).exists()
    end_fault(fault, by=keeper, on=ON, ended_on=ON, end_reason=FaultEnd.DRIED)
    assert not Fault.objects.holding_back(ON).exists()


def test_one_of_the_cables_names_no_position(mat, keeper):
    with pytest.raises(ValidationError, match="Leave the position empty, or say “cable”"):
        report(mat, keeper, FaultPlace.ONE_OF_CABLES)
