"""A fitting that never was so is deleted, and what it displaced is back where it was, in one act."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import make_fault, make_plain_mat, make_plain_segment, make_reading
from invariants import broken

from fleet.figures import short_day
from fleet.models import Fitting
from fleet.selectors.mats import trail_of_mat
from fleet.selectors.segments import trail_of_segment
from fleet.services.confirmation import WantsConfirmation
from fleet.services.events import add_event
from fleet.services.faults import report_fault
from fleet.services.fittings import Fit, TakenOut, correct_fitting, fit_segment, fit_segments, take_out
from fleet.services.register import return_to_use, withdraw_segment
from inspections.assessment.services import assess_pool
from inspections.bench.services import TypedReading, record_readings
from inspections.deleting.services import delete_fitting
from inspections.models import Assessment
from inspections.validators import TypedLoss
from inspections.workshop.change_services import Change, GoesIn, change_cables
from inspections.workshop.services import raise_work_orders, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db
LONG_AGO = timedelta(days=300)


@pytest.fixture
def mat(today):
    mat = make_plain_mat(number="M-1", fitted=True, fitted_on=today - LONG_AGO)
    assess_pool(today)
    return mat


@pytest.fixture
def acts(keeper, today):
    return {"by": keeper, "on": today}


def held(mat, position=1):
    """The fitting in the position today."""
    return mat.fittings.select_related("segment", "mat").filter(position=position, removed_on=None).first()


def fitted(mat, acts, position=1, segment=None, goes="thrown away", days_ago=0, **values):
    """A cable fitted by mistake, which ended what was there."""
    old = held(mat, position)
    out = old and TakenOut(old, "worn", goes)
    day = acts["on"] - timedelta(days_ago)
    segment = segment or make_plain_segment()
    return fit_segment(segment, mat, position, out=out, fitted_on=day, **values, **acts).fitting


def delete(fitting, acts, **values):
    return delete_fitting(fitting, reason="typed into the wrong mat", **values, **acts)


def places():
    """{(mat, position): serial} of what is in place, and which cables are in use: all that a person sees of it."""
    rows = Fitting.objects.filter(removed_on=None).values_list("mat__number", "position", "segment__serial")
    return {(mat, position): serial for mat, position, serial in rows}


def test_the_cable_that_it_ended_is_back_in_its_position_and_in_use(mat, acts, today):
    old, before = held(mat), places()
    deletion = delete(fitted(mat, acts, days_ago=3), acts)
    assert places() == before
    old.segment.refresh_from_db()
    old.refresh_from_db()
    assert (old.segment.withdrawn_on, old.removed_on, old.removal_reason) == (None, None, "")
    assert deletion.follows == (
        f"{old.segment} is in M-1 position 1 again.",
        f"{old.segment} is not thrown away any more.",
    )
    assert Assessment.objects.filter(segment=old.segment).exists() and not broken(today)


def test_a_cable_that_was_moved_here_is_back_where_it_was(mat, acts, today):
    other = make_plain_mat(number="M-2", fitted=True, fitted_on=today - LONG_AGO)
    assess_pool(today)
    before, moved = places(), held(other, 3).segment
    deletion = delete(fitted(mat, acts, segment=moved, goes="shelf", move=True), acts)
    assert places() == before and not broken(today)
    assert f"{moved} is in M-2 position 3 again." in deletion.follows


def test_cables_that_changed_places_are_back_once_both_fittings_are_deleted(mat, acts, today):
    before = places()
    one, two = held(mat, 1), held(mat, 2)
    fits = [Fit(1, two.segment, TakenOut(one, "swapped")), Fit(2, one.segment, TakenOut(two, ""))]
    first, second = (done.fitting for done in fit_segments(mat, fits, fitted_on=today, **acts))
    kept = delete(second, acts).follows
    assert f"{one.segment} stays out of M-1 position 1: {two.segment} is there from {short_day(today)}." in kept
    assert f"{two.segment} stays out of M-1 position 2: it is in M-1 position 1 from {short_day(today)}." in kept
    delete(first, acts)
    assert places() == before and not broken(today)


def test_faults_that_the_change_ended_are_open_again(mat, acts, today):
    fault = report_fault(mat, place="cable", reported_on=today - timedelta(2), position=1, **acts)
    elsewhere = make_fault(mat, "cable", 2, today - timedelta(3), ended_on=today, end_reason="change")
    deletion = delete(fitted(mat, acts), acts)
    fault.refresh_from_db()
    elsewhere.refresh_from_db()
    assert (fault.ended_on, fault.end_reason, elsewhere.ended_on) == (None, "", today)
    assert f"The fault of {short_day(today - timedelta(2))} (cable) is open again." in deletion.follows
    assert not broken(today)


def test_a_fault_that_an_earlier_change_of_that_day_ended_stays_closed(mat, acts, today):
    fault = report_fault(mat, place="cable", reported_on=today - timedelta(2), position=1, **acts)
    right = fitted(mat, acts)
    delete(fitted(mat, acts, goes="shelf"), acts)
    fault.refresh_from_db()
    assert fault.ended_on == today and held(mat) == right


def test_a_fault_of_the_mat_that_ended_with_several_changes_stays_closed_and_that_is_said(mat, acts, today):
    fault = make_fault(mat, "one of the cables", None, today - timedelta(2), ended_on=today, end_reason="change")
    first, second = fitted(mat, acts, 1), fitted(mat, acts, 2)
    said = f"The fault of {short_day(today - timedelta(2))} (one of the cables) stays closed: several cables of M-1"
    assert any(sentence.startswith(said) for sentence in delete(first, acts).follows)
    delete(second, acts)
    fault.refresh_from_db()
    assert fault.ended_on is None


@pytest.mark.parametrize("later", ["another took its place", "it was moved on"])
def test_one_on_which_a_later_fitting_stands_stays_until_that_is_deleted(mat, acts, today, later):
    wrong = fitted(mat, acts, days_ago=4)
    if later == "another took its place":
        stands, named = fitted(mat, acts, days_ago=2), "took its place"
    else:
        other = make_plain_mat(number="M-2")
        stands, named = fitted(other, acts, segment=wrong.segment, days_ago=2, move=True), "was moved from here"
    with pytest.raises(ValidationError, match=named):
        delete(wrong, acts)
    delete(stands, acts)
    delete(wrong, acts)
    assert not broken(today)


def test_what_was_corrected_or_put_there_since_stays_and_is_said(mat, acts, today):
    old = held(mat)
    wrong = fitted(mat, acts, days_ago=4, goes="shelf")
    take_out(wrong, removed_on=today - timedelta(3), reason="loose", **acts)
    later = fitted(mat, acts, days_ago=1)
    kept = delete(wrong, acts).follows
    since = short_day(later.fitted_on)
    assert kept == (f"{old.segment} stays out of M-1 position 1: {later.segment} is there from {since}.",)
    assert held(mat) == later and not broken(today)


def test_a_cable_that_was_thrown_away_for_another_reason_stays_withdrawn(mat, acts, today):
    old = held(mat)
    wrong = fitted(mat, acts, days_ago=4)
    old.segment.refresh_from_db()
    return_to_use(old.segment, by=acts["by"], on=today)
    withdraw_segment(old.segment, by=acts["by"], on=today, reason="crushed by a van", withdrawn_on=today)
    stays = f"{old.segment} stays out of M-1 position 1: it was withdrawn on {short_day(today)}."
    assert stays in delete(wrong, acts).follows
    assert held(mat) is None and not broken(today)


def test_its_readings_become_void_or_stay_as_those_of_a_cable_that_was_not_fitted(mat, acts, today):
    for become_void in (True, False):
        wrong = fitted(mat, acts)
        (reading,) = record_readings(
            mat, [TypedReading(wrong.segment, TypedLoss(0.4, False), "at fitting")], measured_on=today, **acts
        )
        delete(wrong, acts, readings=become_void)
        reading.refresh_from_db()
        assert (reading.voided_on, reading.taken) == ((today, "at fitting") if become_void else (None, "as found"))
        assert not broken(today)


def test_the_line_of_a_work_order_that_it_answered_is_to_be_done_again(mat, acts, today):
    old = held(mat)
    (order,) = raise_work_orders([old.segment_id], **acts)
    wrong = fitted(mat, acts)
    line = order.lines.get()
    assert not line.is_open
    assert f"Work order {order} asks for {old.segment} in position 1 again." in delete(wrong, acts).follows
    line.refresh_from_db()
    assert line.is_open and not broken(today)


def test_an_order_that_was_signed_off_for_it_is_signed_off_no_more(mat, acts, today):
    old, other = held(mat), held(mat, 2)
    (order,) = raise_work_orders([old.segment_id, other.segment_id], **acts)
    changes = [Change(1, GoesIn(serial="N-10"), TakenOut(old, "worn", "thrown away"))]
    given = {"changes": changes, "left": {2: "no spare"}, "changed_on": today, "confirmed": "", **acts}
    with pytest.raises(WantsConfirmation) as asked:
        answer_order(order, **given)
    answer_order(order, **given | {"confirmed": asked.value.fingerprint})
    said = delete(held(mat), acts).follows
    order.refresh_from_db()
    assert f"Work order {order} is not signed off any more." in said
    assert (order.signed_on, order.state_on(today)) == (None, "begun")
    assert [(line.is_open, line.is_answered) for line in order.lines.all()] == [(True, False), (False, True)]
    assert not broken(today)


@pytest.mark.parametrize("since", ["nothing", "withdrawn", "another day"])
def test_a_line_that_says_it_was_done_says_so_no_more(mat, acts, today, since):
    (order,) = raise_work_orders([held(mat).segment_id], **acts)
    wrong = fitted(mat, acts, days_ago=3)
    assert order.lines.get().new_segment == wrong.segment
    if since == "withdrawn":
        withdraw_work_order(order, reason="lost", **acts)
    elif since == "another day":
        correct_fitting(held(mat), fitted_on=today - timedelta(1), **acts)
    delete(wrong, acts)
    line = order.lines.get()
    assert (line.done_on, line.new_segment, line.answered_by) == (None, None, "")
    assert line.is_open == (since != "withdrawn")


def test_one_that_a_work_order_asks_for_stays_until_that_is_withdrawn(mat, acts, today):
    wrong = fitted(mat, acts)
    (order,) = raise_work_orders([wrong.segment_id], **acts)
    with pytest.raises(ValidationError, match=f"stands on work order {order}. Withdraw that first."):
        delete(wrong, acts)
    withdraw_work_order(order, reason="never so", **acts)
    delete(wrong, acts)
    assert not broken(today)


def test_one_under_a_fault_that_was_reported_since_stays_where_nothing_comes_back(acts, today):
    mat = make_plain_mat(number="M-1")
    wrong = fitted(mat, acts, days_ago=5)
    report_fault(mat, place="cable", reported_on=today, position=1, **acts)
    with pytest.raises(ValidationError, match="A fault of this cable was reported"):
        delete(wrong, acts)


def test_the_trail_of_mat_and_cables_keeps_what_it_said_by_whom_and_why(mat, acts, today):
    old, wrong = held(mat), fitted(mat, acts)
    delete(wrong, acts)
    said = f"{wrong.segment} in M-1 position 1 from {short_day(today)}: deleted"
    for trail in (trail_of_mat(mat), trail_of_segment(wrong.segment)):
        assert [(row.who, row.reason) for row in trail if row.what == said] == [("keeper", "typed into the wrong mat")]
    undone = trail_of_segment(old.segment)[0]
    assert undone.reason == f"{wrong} was deleted: typed into the wrong mat"


def test_nothing_happens_without_a_reason_or_where_something_else_follows_by_now(mat, acts, today):
    wrong, before = fitted(mat, acts, days_ago=2), places()
    with pytest.raises(ValidationError, match="Say why it is deleted"):
        delete_fitting(wrong, reason=" ", **acts)
    with pytest.raises(ValidationError, match="now something else follows"):
        delete(wrong, acts, follows="0" * 16)
    correct_fitting(wrong, fitted_basis="about", **acts)
    with pytest.raises(ValidationError, match="Somebody else changed this"):
        delete(wrong, acts, seen_version=1)
    assert places() == before


def test_change_of_several_cables_is_undone_one_by_one(mat, acts, today):
    before = places()
    changes = [
        Change(position, GoesIn(), TakenOut(held(mat, position), "worn", "thrown away"), TypedLoss(0.4, False))
        for position in (1, 2)
    ]
    done = change_cables(mat, changes, changed_on=today, **acts).done
    for row in done:
        delete(row.fitting, acts, readings=True)
    assert places() == before and not broken(today)


def test_wear_is_assessed_again(mat, acts, today):
    make_reading(held(mat).segment, 3.4, today - timedelta(20))
    assess_pool(today)
    add_event(by=acts["by"], name="Hill run", starts_on=today)
    was = Assessment.objects.get(segment=held(mat).segment)
    delete(fitted(mat, acts), acts)
    assert Assessment.objects.get(segment=held(mat).segment).due_on == was.due_on
