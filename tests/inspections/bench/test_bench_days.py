"""Bench days: one row for each day and instrument."""

import pytest
from django.db import IntegrityError, transaction

from inspections.models import BenchDay
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("with_instrument", [True, False])
def test_a_day_and_an_instrument_are_one_bench_day_and_so_is_a_day_without_one(with_instrument, today):
    instrument = make_instrument() if with_instrument else None
    key = {"measured_on": today, "instrument": instrument}
    BenchDay.objects.create(**key, shift_db=0.1, shift_sd_db=0.04, readings=8)
    BenchDay.objects.create(measured_on=today, instrument=make_instrument(), shift_db=0, shift_sd_db=0.1, readings=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        BenchDay.objects.create(**key, shift_db=0.2, shift_sd_db=0.04, readings=4)
