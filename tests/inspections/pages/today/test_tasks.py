"""Which cables ask for something on the first page, and in which of its lists."""

from datetime import timedelta
from itertools import product

import pytest
from factories import make_event, make_mat, make_plain_design

from fleet.choices import FittedBasis
from inspections.assessment.services import assess_pool
from inspections.due.unknown_selectors import unknown_cables
from inspections.models import Assessment
from inspections.numeric.words import PRESSING, Status
from inspections.pages.today.task_selectors import CHANGE, MEASURE, SHOWN, UNKNOWN, Tasks

pytestmark = pytest.mark.django_db
BASES, READ = (FittedBasis.KNOWN, FittedBasis.NOT_LATER_THAN), (False, True)


@pytest.fixture
def every_kind(today):
    """A mat of one cable for each status, with and without a reading, of known and of unknown age."""
    design, kinds = make_plain_design(1), list(product(Status, BASES, READ))
    mats = [make_mat(design=design, fitted=True, fitted_on=today - timedelta(days=9)) for _ in kinds]
    assess_pool(today)
    for mat, (status, basis, read) in zip(mats, kinds, strict=True):
        kind = {"urgency": status.order, "age_basis": basis, "measured_on": today if read else None}
        Assessment.objects.filter(mat=mat).update(**kind, wanted_on=None, list_key=f"{status.order} {mat.number}")


def test_each_cable_stands_in_one_list_at_most(every_kind, today):
    tasks, unknown = Tasks(today), set(unknown_cables().values_list("pk", flat=True))
    to_measure = set(Assessment.objects.of_status(Status.MEASURE).values_list("pk", flat=True))
    assert tasks.cables(CHANGE) == Assessment.objects.of_status(*PRESSING).count() == 8
    # of status unknown, and besides those of unknown age that were never measured
    assert (tasks.cables(UNKNOWN), tasks.unknown_cables.of_age) == (len(unknown), 5) == (7, 5)
    assert tasks.cables(MEASURE) == len(to_measure - unknown) == 3


def test_five_mats_are_shown_of_each_list_and_all_are_counted(every_kind, today):
    tasks = Tasks(today)
    for asks, mats in ((CHANGE, 8), (MEASURE, 3), (UNKNOWN, 7)):
        list_ = tasks.preview(asks)
        assert (len(list_.shown), list_.total) == (min(SHOWN, mats), mats)
        keys = [task.first.list_key for task in list_.shown]
        assert keys == sorted(keys)


def test_cables_of_one_mat_that_wait_for_different_days_are_one_task(today):
    mat = make_mat(design=make_plain_design(3), fitted=True, fitted_on=today - timedelta(days=2000))
    assess_pool(today)
    soon, later = (make_event(today + timedelta(days=days)) for days in (3, 30))
    for position, event in ((1, later), (2, soon)):
        wanted = {"before_event": event, "wanted_on": event.starts_on}
        Assessment.objects.filter(mat=mat, position=position).update(**wanted)
    tasks = Tasks(today)
    (task,) = tasks.preview(CHANGE).shown
    assert (task.mat, len(task.rows), tasks.preview(CHANGE).total) == (mat, 3, 1)
    assert tasks.before_the_soonest == (soon.starts_on, 1)
