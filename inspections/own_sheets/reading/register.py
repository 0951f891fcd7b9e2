"""What there is once the sheets are read: the pool's register and what sheets added to it, found without a query."""

from bisect import insort
from collections import defaultdict
from datetime import date
from itertools import count

from fleet.models.fields import code_key
from fleet.parsing.mat_lists import read_mat_list
from fleet.selectors.numbering import NOTE, SERIAL

from .alike_mats import AlikeMats
from .known_selectors import KnownPool


class Register:
    """Mats, designs, cables and their stays, events; stored ones first, then those of the sheets."""

    def __init__(self, known: KnownPool):
        self.known = known
        self.mats = {code_key(mat.number): mat for mat in known.mats}
        self.designs = {code_key(design.code): design for design in known.designs}
        self.cables = {code_key(cable.serial): cable for cable in known.cables}
        self.cable_types = {code_key(name): name for name in known.cable_types}
        self.depots = {code_key(name): name for name in known.depots}
        self.instruments = {code_key(name): name for name in known.instruments}
        self.instrument_kinds = {code_key(name): kind for name, kind in known.instruments.items()}
        self._stays, self._stays_of, self._named = defaultdict(list), defaultdict(list), {}
        self._listed, self._stored = None, AlikeMats(known.mats)
        for stay in known.stays:
            self.add_stay(stay)
        # codes of events on record of which mats are on record
        self.with_uses = {event for event, _ in known.uses}
        self._events = {(code_key(name), first, last): code for code, name, first, last in known.events}
        self._event_days = {code_key(code): (code, first, last) for code, _, first, last in known.events}
        self._serials, self._notes = count(known.first_serial), count(known.first_note)
        self._numbers = {}

    # mats and their designs

    def mat(self, number):
        """The mat of this number, as a list of mats would name it; None where there is none, or more than one."""
        key = code_key(number)
        if key not in self.mats and key not in self._named:
            listed = self.mats_in(number, date.max)
            found = (*listed.mats, *listed.withdrawn)
            self._named[key] = found[0] if len(found) == 1 and not listed.unknown else None
        return self.mats.get(key) or self._named[key]

    def add_mat(self, mat):
        self.mats[code_key(mat.number)] = mat
        self._named, self._listed = {}, None

    def mats_in(self, text, day):
        """The MatList of a text; *all* are those in use on that day."""
        return read_mat_list(text, self.listed, day)

    @property
    def listed(self):
        """All of them, to be found by how lists call them."""
        if self._listed is None:
            self._listed = AlikeMats(list(self.mats.values()))
        return self._listed

    def stored_mat(self, number):
        """The mat on record of this number, or of one that is the same but for what stands between its parts."""
        return self._stored.written_otherwise(number)

    def design_of(self, mat):
        return self.designs.get(code_key(mat.design))

    def add_design(self, design):
        self.designs[code_key(design.code)] = design

    def free_design_code(self, wanted):
        """The wanted code, else the same with the first free number behind it."""
        numbered = (f"{wanted} ({number})" for number in count(2))
        return (
            wanted
            if code_key(wanted) not in self.designs
            else next(code for code in numbered if code_key(code) not in self.designs)
        )

    # cables and where they are

    def next_serial(self):
        serials = (f"{SERIAL}{number:05d}" for number in self._serials)
        return next(serial for serial in serials if self.cable(serial) is None)

    def cable(self, serial):
        """None where there is none."""
        return self.cables.get(code_key(serial)) if serial else None

    def add_cable(self, cable):
        self.cables[code_key(cable.serial)] = cable

    def add_stay(self, stay):
        for stays in self._both(stay):
            insort(stays, stay, key=lambda each: each.fitted_on)

    def replace_stay(self, stay, other):
        for stays in self._both(stay):
            stays[stays.index(stay)] = other

    def forget_stay(self, stay):
        for stays in self._both(stay):
            stays.remove(stay)

    def _both(self, stay):
        return self._stays[code_key(stay.mat), stay.position], self._stays_of[code_key(stay.serial)]

    def stays(self, mat, position):
        """All that is known of a position of a mat, oldest first."""
        return self._stays.get((code_key(mat), position), [])

    def stay_on(self, mat, position, day):
        return next((stay for stay in self.stays(mat, position) if stay.holds_on(day)), None)

    def stay_after(self, mat, position, day):
        """The first that began after that day; None where none did."""
        return next((stay for stay in self.stays(mat, position) if stay.fitted_on > day), None)

    def stays_of(self, serial):
        """Where the cable was and is, oldest first."""
        return self._stays_of.get(code_key(serial), [])

    # events and notes

    def event(self, name, first, last):
        """The code of the event of this name and these days, else a new one; and whether it is new."""
        key = (code_key(name), first, last)
        if key in self._events:
            return self._events[key], False
        code = self._next_event(first.year)
        self.add_event(code, name, first, last)
        return code, True

    def add_event(self, code, name, first, last):
        self._events[code_key(name), first, last] = code
        self._event_days[code_key(code)] = (code, first, last)

    def event_of_code(self, code):
        """(code, first day, last day); None where there is none."""
        return self._event_days.get(code_key(code))

    def _next_event(self, year):
        numbers = self._numbers.setdefault(year, count(self.known.next_event(year)))
        codes = (f"E-{year}-{number:02d}" for number in numbers)
        return next(code for code in codes if code_key(code) not in self._event_days)

    def next_note(self):
        return f"{NOTE}{next(self._notes):05d}"
