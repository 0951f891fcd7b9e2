"""A pool with one of everything, and its back-up."""

import pytest
from backups import AT, make_pool

from inspections.backup.making import make_backup


@pytest.fixture
def one_of_everything(keeper, on, data_dir):
    make_pool(keeper, on, data_dir)


@pytest.fixture
def backup(one_of_everything, tmp_path):
    made = tmp_path / "pool.zip"
    make_backup(made, now=AT)
    return made
