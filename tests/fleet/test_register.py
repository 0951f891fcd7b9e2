"""Rules of the register, whoever writes."""

import pytest
from django.core.exceptions import ValidationError
from factories import make_design, make_mat

from fleet.services.register import add_mat, correct_mat

pytestmark = pytest.mark.django_db


def test_capitals_make_no_other_code(keeper, today):
    make_mat("M-001")
    with pytest.raises(ValidationError, match="There is M-001 already"):
        add_mat(by=keeper, on=today, number="m-001", design=make_design())


def test_a_code_may_be_written_with_other_capitals(keeper, today):
    mat = make_mat("m-001")
    assert correct_mat(mat, by=keeper, on=today, number="M-001").number == "M-001"
