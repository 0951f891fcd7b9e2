"""Two and more at one batch at once: each cable gets its own number, and nothing is lost."""

import pytest
from at_once import at_once
from factories import make_batch, make_instrument, make_segment

from inspections.batches.services import end_batch, enter_value
from inspections.models import Batch
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def batch():
    return make_batch("B-1", instrument=make_instrument("bridge", 0.066))


def enter(**more):
    return lambda: enter_value(Batch.objects.get(number="B-1"), TypedLoss(1.2), by=None, **more)


def test_each_of_six_gets_a_number_of_its_own(batch):
    values = at_once(6, enter())
    assert sorted(value.cable for value in values) == [1, 2, 3, 4, 5, 6]
    assert batch.values.count() == 6


def test_one_cable_read_by_four_at_once_was_read_four_times_more(batch):
    enter()()
    values = at_once(4, enter(cable=1))
    assert sorted(value.attempt for value in values) == [2, 3, 4, 5]


def test_numbers_that_the_app_gives_are_given_once(batch):
    make_segment(serial="C-00041")
    values = at_once(4, enter(number_on=True))
    assert sorted(value.serial for value in values) == ["C-00042", "C-00043", "C-00044", "C-00045"]


def test_one_of_two_ends_it(batch, today):
    enter(serial="X-1")()
    answers = at_once(2, lambda: end_batch(Batch.objects.get(number="B-1"), by=None, on=today))
    assert sorted(map(type, answers), key=str) == [list, str]
    assert "was ended on" in next(answer for answer in answers if isinstance(answer, str))
