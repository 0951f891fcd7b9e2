"""Fittings, faults and notes against the designs and against each other."""

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from itertools import chain

from ..choices import CABLE_PLACES, FaultEnd, FaultPlace, ends_of
from ..models import Fitting
from ..models.mats import mat_name
from .files import FAULTS, FITTINGS, MATS, NOTES, POSITIONS, SEGMENTS


def check_spans(files):
    """Nothing ends before it starts, and the end of a fault has a day and a reason."""
    fittings, faults, notes = (files.table(layout.file) for layout in (FITTINGS, FAULTS, NOTES))
    if notes is not None:
        refuse_early_ends(files, notes, "on", "done_on")
    if fittings is not None:
        refuse_early_ends(files, fittings, "fitted_on", "removed_on")
    if faults is not None:
        refuse_early_ends(files, faults, "reported_on", "ended_on")
        for row, ended_on, reason in list(faults.rows("ended_on", "end_reason")):
            if (ended_on is None) != (reason == ""):
                lacking, filled = ("ended_on", "end_reason") if ended_on is None else ("end_reason", "ended_on")
                faults.refuse(files.errors, row, lacking, "an empty cell", f"a value, since {filled} has one")


def refuse_early_ends(files, table, start, end):
    for row, starts_on, ends_on in list(table.rows(start, end)):
        if ends_on is not None and ends_on < starts_on:
            table.refuse(files.errors, row, end, f"“{ends_on}”", f"a day not before {start}, {starts_on}")


def check_positions(files):
    """A position is one that the design of the mat has. The fault of a cable or connector names one, and cannot dry.

    What ended may stand at another one, and is remarked on: mats are given other designs, and their past stays.
    """
    faults = files.table(FAULTS.file)
    if faults is not None:
        _refuse_of_cables(files, faults)
    if not files.can_follow(MATS.file, POSITIONS.file):
        return
    for table, end in ((files.table(FITTINGS.file), "removed_on"), (faults, "ended_on")):
        if table is not None:
            _refuse_positions_without_design(files, table, end)


def _refuse_of_cables(files, faults):
    for row, position, place in list(faults.rows("position", "place")):
        if position is None and place in CABLE_PLACES:
            faults.refuse(files.errors, row, "position", "an empty cell", f"the position of the {place}")
        if position is not None and place == FaultPlace.ONE_OF_CABLES:
            faults.refuse(files.errors, row, "position", f"{position}", f"an empty cell: of {place} nobody knows which")
    for row, place, reason in list(faults.rows("place", "end_reason")):
        if reason == FaultEnd.DRIED and reason not in ends_of(place):
            expected = f"{', '.join(ends_of(place))}: a {place} is not mended by drying"
            faults.refuse(files.errors, row, "end_reason", f"“{reason}”", expected)


def _refuse_positions_without_design(files, table, end):
    design_of, length_of = files.known(MATS.file, "design"), files.known(POSITIONS.file, "length_m")
    numbers = {}
    for design, number in length_of:
        numbers.setdefault(design, []).append(number)
    for row, mat, position, ended_on in list(table.rows("mat", "position", end)):
        design = design_of.get(mat)
        if position is None or design is None or (design, position) in length_of:
            continue
        has = ", ".join(map(str, sorted(numbers.get(design, ())))) or "none yet"
        found, expected = f"“{position}” of {mat_name(mat)}", f"a position of its design {design}: {has}"
        if ended_on is None:
            table.refuse(files.errors, row, "position", found, expected)
        elif not table.existing[row]:
            expected += "; it is taken as one of a design that the mat had before"
            files.warnings.add(table.file, table.lines[row], "position", found, expected)


@dataclass(frozen=True)
class Stay:
    """One fitting; `row` is its row in the file, None for one that is stored and not in the file."""

    segment: str
    mat: str
    position: int
    fitted_on: date
    removed_on: date | None
    row: int | None

    @property
    def until(self):
        return self.removed_on or date.max

    def __str__(self):
        until = f" until {self.removed_on}" if self.removed_on else ""
        return f"{self.segment} in {mat_name(self.mat)} position {self.position} from {self.fitted_on}{until}"


def check_occupied_once(files):
    """A segment is in one place at a time, and a position holds one segment at a time."""
    table = files.table(FITTINGS.file)
    if table is None:
        return
    stays = list(_stays_of_file(table))
    stays += _stays_stored({(stay.segment, stay.fitted_on) for stay in stays} | set(table.instead.values()))
    stays.sort(key=lambda stay: (stay.fitted_on, stay.until))
    in_two_places = _overlaps(stays, lambda stay: stay.segment)
    held_twice = _overlaps(stays, lambda stay: (stay.mat, stay.position))
    for later, holder in chain(in_two_places, held_twice):
        new, other = (later, holder) if later.row is not None else (holder, later)
        if new.row is None:
            continue
        where = "stored already" if other.row is None else f"line {table.lines[other.row]}"
        column = "segment" if new.segment == other.segment else "position"
        what = "a segment in one place" if column == "segment" else "a position with one segment"
        table.refuse(files.errors, new.row, column, str(new), f"{what} at a time; {where}: {other}")


def _stays_of_file(table):
    for row, *values in table.rows("segment", "mat", "position", "fitted_on", "removed_on"):
        yield Stay(*values, row)


def _stays_stored(in_file):
    stored = Fitting.objects.order_by().values_list(
        "segment__serial", "mat__number", "position", "fitted_on", "removed_on"
    )
    return (Stay(*values, None) for values in stored if (values[0], values[3]) not in in_file)


def _overlaps(stays, place_of):
    """(stay, the one that holds the place already) of stays in order of their start."""
    holders: dict[Hashable, Stay] = {}
    for stay in stays:
        holder = holders.get(place_of(stay))
        if holder is not None and stay.fitted_on < holder.until:
            yield stay, holder
        if holder is None or stay.until >= holder.until:
            holders[place_of(stay)] = stay


def warn_of_other_lengths(files):
    """A segment may be longer or shorter than the design specifies for its position; its own length counts."""
    table = files.table(FITTINGS.file)
    if table is None or not files.can_follow(MATS.file, POSITIONS.file, SEGMENTS.file):
        return
    design_of, specified = files.known(MATS.file, "design"), files.known(POSITIONS.file, "length_m")
    length_of = files.known(SEGMENTS.file, "length_m")
    for row, segment, mat, position in table.rows("segment", "mat", "position", where=table.new):
        length_m, specified_m = length_of.get(segment), specified.get((design_of.get(mat), position))
        if length_m is not None and specified_m is not None and length_m != specified_m:
            found = f"{segment} of {length_m:g} m in {mat_name(mat)} position {position}"
            expected = f"{specified_m:g} m by its design; the length of the segment counts"
            files.warnings.add(table.file, table.lines[row], "segment", found, expected)
