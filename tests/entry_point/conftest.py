"""One environment made for all tests of the entry point, copied for those that change it."""

import shutil
import subprocess
from pathlib import Path

import pytest
from entry_copies import ROOT, make_project, start_beside, write

from inspections.management.installing import STAMP


@pytest.fixture(scope="package", autouse=True)
def real_venv_is_left_alone():
    def look():
        venv = ROOT / ".venv"
        return [(path.name, path.stat().st_mtime_ns) for path in [venv, *sorted(venv.glob("*"))] if path.exists()]

    before = look()
    yield
    assert look() == before


@pytest.fixture(scope="package")
def first_start(tmp_path_factory):
    """7 s: two at once make the environment that the other tests copy, install, start afresh."""
    project = make_project(tmp_path_factory.mktemp("first") / "a folder with spaces")
    processes = [start_beside(project, "where") for _ in range(2)]
    told = [process.communicate(timeout=120) for process in processes]
    return project, [
        subprocess.CompletedProcess(process.args, process.returncode, *said)
        for process, said in zip(processes, told, strict=True)
    ]


@pytest.fixture
def copied(first_start, tmp_path):
    """A folder of the test's own, 0.5 s to copy; its next start notices that it has moved."""
    return Path(shutil.copytree(first_start[0], tmp_path / "project", symlinks=True))


@pytest.fixture
def project(first_start, copied):
    """The same with everything in place, as its own first start would leave it."""
    stamp = copied / ".venv" / STAMP.name
    write(stamp, stamp.read_text().replace(str(first_start[0]), str(copied)))
    return copied
