"""Cables that no sheet names: a mat has one in each position of its build, and somebody said when they were changed."""

from dataclasses import replace

from fleet.choices import FittedBasis, NoteAbout, SerialBasis
from fleet.intake.files import FITTINGS, SEGMENTS
from fleet.parsing.approximate_dates import given_span

from ..meanings import CABLES_CHANGED, FIELD_WORDS
from ..understood import Assumption
from .known_selectors import KnownCable, KnownStay

CHANGED = "changed"


def make_cables(said, making):
    """A cable in each empty position of the mats of sheets of mats; where they were changed since, the next one."""
    for mat in said.values():
        known = making.register.mat(mat.number)
        if not known.in_use(making.on):
            _of_a_mat_that_is_gone(mat, known, making)
            continue
        places = making.register.design_of(known).places
        for position in places:
            _settle(mat, known.number, position, making)
        if not places:
            # no cable can hold it yet
            _note_change(mat, known.number, making)


def _of_a_mat_that_is_gone(mat, known, making):
    """Nobody says when its cables came out, so the app makes none; what was said of them is a note."""
    if not known.stored or mat.changed_text:
        making.assume(Assumption.OUT_OF_USE, known.number)
    _note_change(mat, known.number, making)


def _note_change(mat, number, making):
    if mat.changed_text:
        text = f"{FIELD_WORDS[CABLES_CHANGED]}: “{mat.changed_text}” in the sheet"
        making.note(NoteAbout.MAT, number, text, mat.place)


def _settle(mat, number, position, making):
    stays = making.register.stays(number, position)
    there = next((stay for stay in reversed(stays) if stay.removed_on is None), None)
    changed = mat.acquired if mat.never else mat.changed
    if there is None and not stays:
        _make(number, position, mat.place, making, *_fitted(changed, mat, position, making))
    elif there and there.stored and _says_otherwise(mat, there):
        if mat.changed.first <= last_day(there):
            making.assume(Assumption.LEFT_CABLES, number)
            return
        day, basis = _fitted(mat.changed, mat, position, making)
        end_stay(there, day, mat.place, making)
        _make(number, position, mat.place, making, day, basis)


def _says_otherwise(mat, stay):
    """Whether the sheet names another time than is on record; *last year* meant that of the day on which it came."""
    said = mat.changed
    return said is not None and not mat.relative and not said.first <= stay.fitted_on <= said.last


def last_day(stay):
    """The last day on which this stay can have begun."""
    span = given_span(stay.fitted_on) if stay.basis == FittedBasis.ABOUT else None
    return span.last if span else stay.fitted_on


def _fitted(changed, mat, position, making):
    """(day, basis) of a first cable; where nobody knows it was there when it was first read, or the file came."""
    making.assume(Assumption.MADE_CABLES, mat.number)
    if changed is None:
        making.assume(Assumption.NOT_LATER, mat.number)
        return making.first_seen((mat.number, position)), FittedBasis.NOT_LATER_THAN
    day, basis = changed.fitted(making.on)
    if basis == FittedBasis.ABOUT:
        making.roughly(CABLES_CHANGED, mat.changed_text, changed, day, mat.number, about=True)
    return day, basis


def _make(number, position, place, making, day, basis, removed_on=None):
    """The serial of a new cable of this position."""
    register = making.register
    design = register.design_of(register.mat(number))
    specified, serial = design.places[position], register.next_serial()
    values = {"segment": serial, "cable_type": specified.cable_type, "length_m": specified.length_m}
    values |= {"length_basis": specified.length_basis, "serial_basis": SerialBasis.GIVEN}
    making.add(SEGMENTS.file, values, place)
    register.add_cable(KnownCable(serial, specified.cable_type, specified.length_m))
    stay = KnownStay(serial, number, position, day, f"{basis}", removed_on, stored=False)
    register.add_stay(stay)
    add_stay_row(stay, place, making)
    return serial


def add_stay_row(stay, place, making, columns=None):
    values = {"segment": stay.serial, "fitted_on": stay.fitted_on, "mat": stay.mat, "position": stay.position}
    values |= {"fitted_basis": stay.basis, "removed_on": stay.removed_on}
    making.add(FITTINGS.file, values, place, columns)


def end_stay(stay, day, place, making):
    """A cable came out on the day on which the next went in."""
    ended = replace(stay, removed_on=day)
    add_stay_row(ended, place, making)
    making.register.replace_stay(stay, ended)
    making.assume(Assumption.CHANGED_CABLES, stay.mat)
    making.came_out.append((ended, place))


def earlier_cable(number, position, day, place, making):
    """The serial of the cable that was there before the oldest on record, for a reading of that day.

    None where none is on record after that day, or where the day lies in the time in which it may have been changed.
    """
    stays = making.register.stays(number, position)
    next_one = making.register.stay_after(number, position, day)
    design = making.register.design_of(making.register.mat(number))
    if next_one is None or position not in design.places:
        return None
    span = given_span(next_one.fitted_on) if next_one.basis == FittedBasis.ABOUT else None
    if span and span.first <= day:
        return None
    first = min(making.first_seen((number, position)), day)
    since = max([stay.removed_on for stay in stays if stay.removed_on and stay.removed_on <= day], default=first)
    basis, until = FittedBasis.NOT_LATER_THAN, next_one.fitted_on
    serial = _make(number, position, place, making, max(first, since), basis, until)
    making.came_out.append((making.register.stays_of(serial)[0], place))
    making.assume(Assumption.EARLIER_CABLES, number)
    return serial


def withdraw_what_came_out(making):
    """A cable that came out and went nowhere else is not on the shelf: nobody said that it was kept."""
    for stay, place in making.came_out:
        stays = making.register.stays_of(stay.serial)
        if all(each.removed_on for each in stays):
            cable, last = making.register.cable(stay.serial), max(each.removed_on for each in stays)
            values = {"segment": cable.serial, "cable_type": cable.cable_type, "length_m": cable.length_m}
            making.add(SEGMENTS.file, values | {"withdrawn_on": last, "withdrawal_reason": CHANGED}, place)
            making.assume(Assumption.THROWN_AWAY, stay.mat or stay.serial)
