"""A back-up brings the mark of its pool along: what a phone keeps for it finds it again after a restore."""

import uuid

import pytest
from backups import empty_the_pool, restore

from fleet.models import Pool
from fleet.selectors.pool import pool_uid

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_restored_pool_is_the_pool_that_phones_know(backup, data_dir):
    known = pool_uid()
    empty_the_pool(data_dir)
    Pool.objects.update(uid=uuid.uuid4())
    restore(backup)
    assert pool_uid() == known
    assert uuid.UUID(known).version == 4
