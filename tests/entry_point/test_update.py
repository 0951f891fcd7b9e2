"""Parts stay fresh: a start notices a changed lock, and `update` says what it changed, in copies of the entry point."""

import hashlib
import re

import pytest
from entry_copies import VENV_PYTHON, make_project, make_wheel, require, start, write

from inspections.management import installing

pytestmark = pytest.mark.process
RUNNING = "A server that is running uses the old ones on: stop it with Ctrl-C and start it again."


def lock(project, **releases):
    """Each release under its true hash, or that of the bytes that are given for it."""
    lines = ["--no-index", "--find-links wheels"]
    for name, version in {"borrowed": "1.0", **releases}.items():
        made = (project / "wheels" / f"{name}-{version}-py3-none-any.whl").read_bytes()
        lines.append(f"{name}=={version} --hash=sha256:{hashlib.sha256(made).hexdigest()}")
    return write(project / ".requirements.lock", "\n".join(lines) + "\n")


@pytest.fixture
def with_two_releases(project):
    """A keeper's own pool, of which a part has come out in two releases."""
    require(project, "borrowed", "part")
    for version in ("1.0", "1.1"):
        make_wheel(project / "wheels", "part", version)
    return project


def installed(project):
    folder = next((project / ".venv").rglob("site-packages"))
    return sorted(path.name.split("-")[1].removesuffix(".dist") for path in folder.glob("part-*.dist-info"))


def test_a_start_installs_what_the_lock_names_also_when_it_changed_since(with_two_releases):
    project = with_two_releases
    lock(project, part="1.0")
    assert "Installing requirements.txt" in start(project, "where").stderr
    assert installed(project) == ["1.0"]
    lock(project, part="1.1")
    assert "Installing requirements.txt" in start(project, "where").stderr
    assert installed(project) == ["1.1"]
    assert start(project, "where").stderr == ""


def test_a_file_that_is_not_the_one_that_the_lock_names_is_not_installed(with_two_releases):
    project = with_two_releases
    lock(project, part="1.0")
    make_wheel(project / "wheels", "part", "1.0", files={"part.py": "slipped_in = True\n"})
    refused = start(project, "where")
    assert refused.returncode == 1
    assert "The package index sent another file than .requirements.lock wants:" in refused.stderr
    assert installed(project) == []


def test_update_goes_to_the_lock_and_with_newest_beyond_it(with_two_releases):
    project = with_two_releases
    lock(project, part="1.0")
    first = start(project, "update")
    assert first.stdout.splitlines() == ["Up to date now with .requirements.lock:", "part 1.0, new", RUNNING]
    beyond = start(project, "update", "--newest")
    assert beyond.stdout.splitlines() == [
        "Up to date now with the newest inside the ranges of requirements.txt:",
        "part 1.0 → 1.1",
        RUNNING,
    ]
    assert start(project, "where").stderr == ""
    back = start(project, "update")
    assert "part 1.1 → 1.0" in back.stdout
    assert start(project, "update").stdout == "Nothing changed: up to date already with .requirements.lock.\n"


def test_without_a_lock_update_goes_to_the_newest_inside_the_ranges(with_two_releases):
    project = with_two_releases
    require(project, "borrowed", "part<1.1")
    start(project, "where")
    require(project, "borrowed", "part<2")
    make_wheel(project / "wheels", "part", "2.0")
    assert "\npart 1.0 → 1.1\n" in start(project, "update").stdout


def test_without_network_update_says_so_and_what_ran_before_runs_on(project):
    """pip itself would be content: all that it wants is installed, and what is newer it cannot ask."""
    write(project / "requirements.txt", "borrowed\n")
    stamp = project / ".venv" / installing.STAMP.name
    before = stamp.read_text()
    refused = start(project, "update", PIP_INDEX_URL="http://127.0.0.1:9/simple")
    assert refused.returncode == 1
    assert "No network: pip got no answer from the package index" in refused.stderr
    assert refused.stdout == ""
    assert stamp.read_text() == before


def test_a_release_that_has_no_file_here_names_the_other_way(with_two_releases):
    project = with_two_releases
    lock(project, part="1.0")
    (project / "wheels" / "part-1.0-py3-none-any.whl").unlink()
    refused = start(project, "where")
    assert "The package index has no file for this computer that .requirements.lock names." in refused.stderr
    command = re.search(r"instead: \S+ (\S+/manage\.py) update --newest\n", refused.stderr)
    assert command
    assert "part 1.1, new" in start(project, "update", "--newest").stdout


def test_the_active_environment_of_somebody_else_stays_as_it_is(first_start, tmp_path):
    python = first_start[0] / ".venv" / VENV_PYTHON
    project = make_project(tmp_path / "project")
    make_wheel(project / "wheels", "borrowed", "1.1")
    refused = start(project, "update", python=python)
    assert refused.returncode == 1
    assert "is not Halfpower's own, so it stays as it is.\n" in refused.stderr
    assert f"Bring it up to date with: {python} -m pip install" in refused.stderr.replace("'", "")
    assert not (project / ".venv").exists()


def test_update_knows_one_option_only(first_start):
    refused = start(first_start[0], "update", "--all")
    assert refused.returncode == 1
    assert "update takes no options but --newest" in refused.stderr
