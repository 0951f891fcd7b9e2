"""One search for everything that has a code: mats, cables, events, work orders, and notes with what they say.

A code is found however it is written: `m46`, `M 046` and `46` are M-046, `M-046 12` the cable at its position 12.
"""

import re
from dataclasses import dataclass

from django.db.models import Q

from fleet.models import CableSegment, Event, Fitting, Mat, Note

from ...deleting.selectors import was_called
from ...models import WorkOrder

SHOWN = 30
PLACE = re.compile(r"(.+?)[\s·/,]+(?:(?:position|pos\.?|cable)\s*)?(\d{1,3})", re.IGNORECASE)


@dataclass(frozen=True)
class Hits:
    """The first `SHOWN` rows of one kind, and how many there are in all."""

    rows: list
    total: int

    @property
    def more(self):
        return self.total > len(self.rows)


@dataclass(frozen=True)
class Found:
    """Hits by kind. `exact` is the one row that the words name, or the only one that has them; None: there are several.

    `deleted`: entries of the trail on rows that the words named in full, where there is none now.
    """

    exact: object
    mats: Hits
    segments: Hits
    events: Hits
    work_orders: Hits
    notes: Hits
    deleted: list

    @property
    def kinds(self):
        """In the order of the page, with the words that count them."""
        named = {"mat": self.mats, "cable": self.segments, "event": self.events}
        return named | {"work order": self.work_orders, "note": self.notes}

    @property
    def total(self):
        return sum(hits.total for hits in self.kinds.values())


def find(text):
    """Capitals and small letters are the same. What the words name in full wins, unless two things are called so."""
    kinds = _kinds()
    named = [row for rows, code, _ in kinds.values() for row in rows.filter(_named(code, text))[:2]]
    at_place = None if named else _at_place(text)
    hits = {name: _hits(rows, code, others, text) for name, (rows, code, others) in kinds.items()}
    deleted = [] if named or at_place else was_called(text)
    return Found(exact=_only([at_place] if at_place else named, hits, deleted), deleted=deleted, **hits)


def _kinds():
    """{kind: (rows, the field with the code, other fields that may have the words)}"""
    return {
        "mats": (Mat.objects.with_register(), "number", ()),
        "segments": (
            CableSegment.objects.select_related("cable_type", "assessment__mat", "assessment__before_event"),
            "serial",
            (),
        ),
        "events": (Event.objects.all(), "code", ("name",)),
        "work_orders": (WorkOrder.objects.select_related("mat"), "number", ()),
        "notes": (Note.objects.with_subject(), "code", ("text",)),
    }


def _hits(rows, code, others, text):
    alike = _named(code, text)
    for field in (code, *others):
        alike |= Q(**{f"{field}__icontains": text})
    found = list(rows.filter(alike)[: SHOWN + 1])
    return Hits(found[:SHOWN], rows.filter(alike).count() if len(found) > SHOWN else len(found))


def _only(named, hits, deleted):
    if named:
        return named[0] if len(named) == 1 else None
    rows = [row for kind in hits.values() for row in kind.rows]
    return rows[0] if len(rows) == 1 and not deleted else None


def _named(code, text):
    """The code itself, or the same letters and figures: without dashes and spaces, and without zeros in front."""
    same = Q(**{f"{code}__iexact": text})
    parts = re.findall(r"\d+|[^\W\d_]+", text)
    if not any(part.isdecimal() for part in parts):
        return same
    alike = r"\W*".join(f"0*{part.lstrip('0')}" if part.isdecimal() else part for part in parts)
    front = r"\D*" if parts[0].isdecimal() else r"\W*"
    return same | Q(**{f"{code}__iregex": rf"^{front}{alike}\W*$"})


def _at_place(text):
    """The cable at a position of a mat, *M-046 12*; without one there the mat; None where the words name no place."""
    place = PLACE.fullmatch(text)
    mats = list(Mat.objects.filter(_named("number", place[1]))[:2]) if place else []
    if len(mats) != 1 or not mats[0].design.positions.filter(number=place[2]).exists():
        return None
    fitted = Fitting.objects.filter(mat=mats[0], position=place[2], removed_on=None)
    fitting = fitted.select_related("segment").first()
    return fitting.segment if fitting else mats[0]
