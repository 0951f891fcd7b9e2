"""An empty pool for tests that start processes: bringing a database up to date costs some seconds each time."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

ROOT = Path(__file__).parents[2]


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
