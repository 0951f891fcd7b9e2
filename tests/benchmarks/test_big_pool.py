"""The pool that speed is measured on is one that the app can read."""

import sys
from pathlib import Path

import pytest

from fleet.models import CableSegment, Mat
from inspections.assessment.services import assess_pool

sys.path.insert(0, str(Path(__file__).parent))
from big_pool import fill
from drawn_pool import ON, POSITIONS


@pytest.mark.django_db
def test_a_small_one_is_filled_and_assessed_whole():
    fill(4 * POSITIONS)
    assert Mat.objects.named("m-000004").exists()
    assert assess_pool(ON) == CableSegment.objects.count() == 4 * POSITIONS
