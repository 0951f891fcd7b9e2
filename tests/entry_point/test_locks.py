"""The locks say what the ranges came to: each release, with the hashes of its files, and nothing else. No network."""

import re
from importlib import metadata

import pytest
from lock_pins import pins
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from inspections.management import installing
from inspections.management.environment import required
from inspections.management.installing import LOCKS, RANGES, RANGES_OF_TESTS


def version_of(pin):
    (specifier,) = pin.specifier
    assert specifier.operator == "=="
    return specifier.version


@pytest.mark.parametrize("ranges", [RANGES, RANGES_OF_TESTS], ids=["app", "tests"])
def test_every_requirement_is_in_the_lock_and_its_release_in_the_range(ranges):
    locked = pins(*{RANGES, ranges})
    for requirement in map(Requirement, required([ranges])):
        version = version_of(locked[canonicalize_name(requirement.name)])
        assert requirement.specifier.contains(version), f"{requirement} is locked to {version}"


@pytest.mark.parametrize("ranges", [[RANGES], [RANGES, RANGES_OF_TESTS]], ids=["app", "app and tests"])
def test_the_locks_name_all_that_comes_along_and_nothing_that_nobody_needs(ranges):
    locked = {name for name, pin in pins(*ranges).items() if not pin.marker or pin.marker.evaluate()}
    assert locked == comes_along(map(Requirement, required(ranges)))


def comes_along(requirements):
    """The names of these, and of all that they need here, by what is installed."""
    wanted, names = list(requirements), set()
    while wanted:
        each = wanted.pop()
        name, extras = canonicalize_name(each.name), each.extras or {""}
        names.add(name)
        needed = [Requirement(line) for line in metadata.requires(name) or []]
        wanted += [
            need
            for need in needed
            if (not need.marker or any(need.marker.evaluate({"extra": extra}) for extra in extras))
            and (canonicalize_name(need.name) not in names or need.extras)
        ]
    return names


@pytest.mark.parametrize("lock", LOCKS.values(), ids=["app", "tests"])
def test_each_release_has_hashes_and_no_lock_names_a_place(lock):
    text = lock.read_text(encoding="utf-8")
    releases = re.split(r"\n(?=\S)", text.strip())[1:]
    assert len(releases) > 15
    for release in releases:
        head, *hashes = release.split(" \\\n    ")
        assert "==" in head
        assert hashes
        assert all(re.fullmatch(r"--hash=sha256:[0-9a-f]{64}", each) for each in hashes), head
    assert not re.search(r"://|--index|--find-links|/\w", text.split("\n", 1)[1])


def test_the_locks_are_for_the_python_that_the_tests_run_on_first_of_all():
    assert (3, 11) in installing.LOCKED_PYTHONS
    for lock in LOCKS.values():
        pythons = ", ".join("{}.{}".format(*python) for python in installing.LOCKED_PYTHONS)
        assert lock.read_text(encoding="utf-8").splitlines()[0].endswith(f"for CPython {pythons}.")


def test_elsewhere_the_ranges_are_installed(monkeypatch):
    monkeypatch.setattr("sys.version_info", (3, 11, 9, "final", 0))
    monkeypatch.setattr("sysconfig.get_platform", lambda: "linux-x86_64")
    assert "--require-hashes" in installing.what_to_install([RANGES])
    for change in [("sys.version_info", (3, 99, 0, "final", 0)), ("sysconfig.get_platform", lambda: "linux-armv7l")]:
        with monkeypatch.context() as patch:
            patch.setattr(*change)
            assert installing.what_to_install([RANGES]) == ["-r", str(RANGES)]
