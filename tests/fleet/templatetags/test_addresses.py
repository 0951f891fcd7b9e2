"""Addresses made in numbers are those that the routes give."""

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from fleet.templatetags.addresses import addresses_of

CODES = st.text(st.characters(exclude_categories=("C", "Z"), exclude_characters="/"), min_size=1)


@pytest.mark.parametrize("name", ["fleet:mat-detail", "fleet:segment-detail", "inspections:mat-change"])
@given(code=CODES)
def test_any_code_without_a_slash_has_the_address_that_its_route_gives(name, code):
    assert addresses_of(name)(code) == reverse(name, args=[code])
