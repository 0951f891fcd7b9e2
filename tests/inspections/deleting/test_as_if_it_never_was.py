"""Whatever was fitted by mistake: once all of it is deleted, the last first, the pool is as if it never was."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from factories import make_person, make_plain_design, make_plain_mat, make_plain_segment
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st
from invariants import broken
from sizes import examples

from fleet.models import CableSegment, Fault, Fitting
from fleet.services.faults import report_fault
from fleet.services.fittings import TakenOut, fit_segment, take_out
from inspections.assessment.services import assess_pool
from inspections.deleting.services import delete_fitting
from inspections.models import Assessment, WorkOrderLine
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
PLACE, CABLE = st.sampled_from([("M-1", 1), ("M-1", 2), ("M-2", 1)]), st.integers(0, 4)
FIT = st.tuples(st.just("fit"), PLACE, CABLE)
RIGHT = st.lists(FIT | st.tuples(st.sampled_from(["take out", "fault", "order"]), PLACE, CABLE), max_size=4)
WRONG = st.lists(FIT, min_size=1, max_size=4)
# without shrinking, which takes minutes
TRIED = settings(
    max_examples=examples(5),
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
# two acts a day, so that some fall on one day
ACTS_A_DAY = 2


class Pool:
    """Two mats with three cables, two spares, and acts one after the other up to today."""

    def __init__(self, by, on, acts):
        self.by, self.on, self.acts_left = by, on, acts
        design = make_plain_design(2)
        self.mats = {number: make_plain_mat(design, number=number) for number in ("M-1", "M-2")}
        self.cables = [make_plain_segment(serial=f"C-{number}") for number in range(5)]
        for place, segment in zip([("M-1", 1), ("M-1", 2), ("M-2", 1)], self.cables, strict=False):
            self._fit(*place, segment, on - timedelta(days=99))
        assess_pool(on)

    def act(self, kind, place, cable):
        """What it made; None where it was refused."""
        self.acts_left -= 1
        day = self.on - timedelta(days=self.acts_left // ACTS_A_DAY)
        try:
            with transaction.atomic():
                if kind == "fit":
                    return self._fit(*place, self.cables[cable], day)
                return self._another(kind, self._held(*place), day)
        except ValidationError:
            return None

    def _held(self, number, position):
        rows = self.mats[number].fittings.select_related("segment", "mat")
        return rows.filter(position=position, removed_on=None).first()

    def _fit(self, number, position, segment, day):
        old = self._held(number, position)
        goes = "thrown away" if old and old.segment_id % 2 else "shelf"
        out = old and TakenOut(old, "worn", goes)
        who = {"by": self.by, "on": self.on, "fitted_on": day}
        segment = CableSegment.objects.get(pk=segment.pk)
        return fit_segment(segment, self.mats[number], position, out=out, move=True, **who).fitting

    def _another(self, kind, held, day):
        who = {"by": self.by, "on": self.on}
        if held is None:
            return
        if kind == "take out":
            take_out(held, removed_on=day, reason="loose", **who)
        elif kind == "fault":
            report_fault(held.mat, place="cable", reported_on=day, position=held.position, **who)
        else:
            raise_work_orders([held.segment_id], **who)


def picture():
    """All that a person sees of the pool."""
    return {
        "fittings": sorted(Fitting.objects.values_list("pk", "segment", "mat", "position", "fitted_on", "removed_on")),
        "withdrawn": sorted(CableSegment.objects.exclude(withdrawn_on=None).values_list("pk", "withdrawn_on")),
        "faults": sorted(Fault.objects.values_list("pk", "ended_on", "end_reason")),
        "lines": sorted(WorkOrderLine.objects.values_list("pk", "is_open", "done_on", "new_segment")),
        "due": sorted(Assessment.objects.values_list("segment", "mat", "position", "urgency", "due_on")),
    }


def tell(right, wrong, on, by):
    """(all that is seen before what is wrong, the fittings that are wrong)."""
    pool = Pool(by, on, len(right) + len(wrong))
    for act in right:
        pool.act(*act)
    before = picture()
    return before, [fitting for act in wrong if (fitting := pool.act(*act))]


def delete(fitting, on, by):
    fitting.refresh_from_db()
    delete_fitting(fitting, by=by, on=on, reason="never so")


@TRIED
@example(right=[("order", ("M-1", 1), 0)], wrong=[("fit", ("M-1", 2), 0)])
@given(right=RIGHT, wrong=WRONG)
def test_deleted_the_last_first_they_leave_the_pool_as_if_they_never_were(today, right, wrong):
    with transaction.atomic():
        by = make_person()
        before, fittings = tell(right, wrong, today, by)
        for fitting in reversed(fittings):
            delete(fitting, today, by)
        assert picture() == before and broken(today) == []
        transaction.set_rollback(True)


@TRIED
@given(right=RIGHT, wrong=WRONG, data=st.data())
def test_deleted_in_any_order_they_are_gone_and_all_that_is_left_agrees(today, right, wrong, data):
    with transaction.atomic():
        by = make_person()
        before, left = tell(right, wrong, today, by)
        while left:
            gone = [fitting for fitting in data.draw(st.permutations(left)) if _is_deleted(fitting, today, by)]
            assert gone, "each is refused for another, in a ring"
            left = [fitting for fitting in left if fitting not in gone]
            assert broken(today) == []
        assert [row[:1] for row in picture()["fittings"]] == [row[:1] for row in before["fittings"]]
        transaction.set_rollback(True)


def _is_deleted(fitting, on, by):
    try:
        with transaction.atomic():
            delete(fitting, on, by)
        return True
    except ValidationError as refused:
        assert " first." in str(refused)
        return False
