"""An empty pool for tests that start processes: to make one costs a second each time."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from inspections.backup.sqlite_schema import as_the_pool

ROOT = Path(__file__).parents[2]
# going back further takes the rows of more tables away, and much longer
OLDER = ("inspections", "0018_days_of_work")


@pytest.fixture(scope="session")
def new_pool(django_db_setup, tmp_path_factory):
    """A data folder with a pool that nobody has an account in."""
    folder = tmp_path_factory.mktemp("new_pool")
    (folder / "secret_key").write_text("of a pool that nobody signs in to, and longer than fifty letters")
    if connection.vendor == "sqlite":
        shutil.copy(django_db_setup, folder / "pool.sqlite3")
        return folder
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    environment |= {"HALFPOWER_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    subprocess.run([sys.executable, "-m", "django", "migrate", "-v0"], cwd=ROOT, env=environment, check=True)
    return folder


@pytest.fixture
def folder(new_pool, tmp_path):
    """Such a folder of the test's own."""
    return Path(shutil.copytree(new_pool, tmp_path / "pool"))


@pytest.fixture(scope="session")
def older_pool_made(new_pool, django_db_blocker, tmp_path_factory):
    """Such a data folder from before the newest changes of its tables, for those who copy it."""
    made = shutil.copytree(new_pool, tmp_path_factory.mktemp("older") / "pool")
    with django_db_blocker.unblock(), as_the_pool(made / "pool.sqlite3"):
        call_command("migrate", *OLDER, verbosity=0)
    return made


@pytest.fixture
def older_folder(older_pool_made, tmp_path):
    """Such a folder of the test's own."""
    return Path(shutil.copytree(older_pool_made, tmp_path / "older"))
