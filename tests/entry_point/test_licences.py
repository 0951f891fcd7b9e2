"""README lists every part with its licence: those that the locks name, in the words of what is installed."""

import re
from importlib import metadata

import pytest
from entry_copies import ROOT
from lock_pins import pins

from inspections.management.installing import RANGES, RANGES_OF_TESTS

COPYLEFT = {"psycopg", "psycopg-binary", "hypothesis"}


def listed(column):
    """{name: licence} of a column of the table."""
    table = (ROOT / "README.md").read_text(encoding="utf-8").split("## What it is built of")[1]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if line[:2] == "| "]
    return {name: row[0] for row in rows[2:] for name in row[column].split(", ") if name}


def licence_of(name):
    """An expression where the package has one, else the name by which the index sorts it, else what it wrote.

    Where it wrote nothing, how the text of its licence begins.
    """
    said = metadata.metadata(name)
    sorted_as = [each.rpartition(" :: ")[2] for each in said.get_all("Classifier", []) if each.startswith("License")]
    return said["License-Expression"] or " AND ".join(sorted_as) or said["License"] or _heading(name)


def _heading(name):
    text = next(path for path in metadata.files(name) if path.name.upper().startswith("LICEN"))
    return text.read_text().strip().splitlines()[0]


@pytest.mark.parametrize(("column", "ranges"), [(1, RANGES), (2, RANGES_OF_TESTS)], ids=["app", "tests"])
def test_the_list_of_licences_is_that_of_what_is_installed(column, ranges):
    named = listed(column)
    locked = pins(ranges)
    assert set(named) == set(locked)
    here = [name for name, pin in locked.items() if not pin.marker or pin.marker.evaluate()]
    assert len(here) > 15
    assert {name: named[name] for name in here} == {name: licence_of(name) for name in here}


def test_no_licence_asks_more_than_its_text_beside_it_but_those_that_are_spoken_of():
    licences = listed(1) | listed(2)
    assert {
        name for name, licence in licences.items() if re.search("GPL|MPL|EPL|CDDL|GNU|Mozilla", licence)
    } == COPYLEFT
