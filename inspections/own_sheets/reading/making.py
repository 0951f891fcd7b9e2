"""What the readers of the sheets share while they work: the register, the rows made, what is unread and assumed."""

from collections import defaultdict
from datetime import date

from fleet.choices import NoteAbout
from fleet.intake.files import NOTES

from ..understood import Assumed, Assumption, RoughDay, Unread
from .known_selectors import KnownPool
from .register import Register
from .rows import Rows, on_one_line

LONGEST_NOTE = NOTES.model._meta.get_field("text").max_length
MOST_NAMED = 8


class Making:
    """`on`: the day on which the file came, which nothing that has happened lies after."""

    def __init__(self, known: KnownPool, on: date):
        self.on, self.register, self.rows = on, Register(known), Rows()
        self.unread: dict[tuple[str, int, int], Unread] = {}
        self._assumed, self._rough = defaultdict(list), {}
        self._noted = set(known.notes)
        # (KnownStay, place) of cables that came out
        self.came_out = []
        # {(mat, position) or the key of a serial: first day on which a reading says that the cable was there}
        self.first_read = {}

    def leave_unread(self, sheet, row, column, cell, expected, choices=()):
        """The first that is said of a cell stays."""
        self.unread.setdefault((sheet, row, column), Unread(sheet, row, column, cell, expected, tuple(choices)))

    def add(self, file, values, place, columns=None, later=()):
        """Add a row, as `Rows.add`; a value that our files would refuse is listed, and the row goes on without it.

        Whether the row is there: not without a value of its key, nor one that it needs. `later`: what follows by
        another call.
        """
        columns, texts = columns or {}, self.rows.texts_of(file, values)
        for name, expected in self.rows.refused(file, texts, self.on).items():
            self._refuse(place, columns, name, texts.pop(name), expected)
        if self.rows.lacks(file, texts, later):
            return False
        for name, first in self.rows.add(file, texts, place, columns).items():
            self._refuse(place, columns, name, texts[name], f"the same as in a row before: {first}")
        return True

    def _refuse(self, place, columns, name, text, expected):
        self.leave_unread(*place, columns.get(name, min(columns.values(), default=0)), text, expected)

    def assume(self, what: Assumption, of, **values):
        """`of` is one of those that the sentence counts and names; `values` tell one sentence from another."""
        self._assumed[what, tuple(values.items())].append(of)

    @property
    def assumed(self):
        """Assumed in the order of `Assumption`."""
        order = list(Assumption)
        found = sorted(self._assumed.items(), key=lambda each: order.index(each[0][0]))
        return [
            Assumed(what, len(names), dict(values) | {"names": list(dict.fromkeys(map(str, names)))})
            for (what, values), named in found
            if (names := list(dict.fromkeys(named)))
        ]

    def roughly(self, field, text, span, day, of, *, about=False, noted=True):
        """Of a day that is only roughly known: what was written, and what is stored of it.

        `about`: as a rough one, else as its middle, which a note explains where it is `noted`.
        """
        names = self._rough.setdefault((field, text, span, day, about, noted and not about), {})
        names[str(of)] = None

    @property
    def rough(self):
        """RoughDays in the order in which they were read."""
        return [
            RoughDay(text, field, span.first, span.last, day, about, tuple(names), noted)
            for (field, text, span, day, about, noted), names in self._rough.items()
        ]

    def first_seen(self, *keys):
        """The first day on which a cable was read, by place or serial; `on` for one that never was."""
        return min([self.on, *(self.first_read[key] for key in keys if key in self.first_read)])

    def note(self, about: NoteAbout, code, text, place):
        """Keep this as a note about it, unless it has the same already; a long one in pieces."""
        plain = on_one_line(text)
        for start in range(0, len(plain), LONGEST_NOTE):
            piece = plain[start : start + LONGEST_NOTE].strip()
            if piece and (about, code, piece) not in self._noted:
                self._noted.add((about, code, piece))
                values = {"note": self.register.next_note(), "on": self.on, "about": about, "code": code, "text": piece}
                self.add(NOTES.file, values, place)
