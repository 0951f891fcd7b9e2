"""One search for everything that has a code: mats, cables, events, work orders, and notes with what they say."""

from dataclasses import dataclass

from django.db.models import Q

from fleet.models import CableSegment, Event, Mat, Note

from ...deleting.selectors import was_called
from ...models import WorkOrder

SHOWN = 30


@dataclass(frozen=True)
class Found:
    """Hits by kind, the first `SHOWN` of each; `exact` is the one row that the words name in full, or None.

    `deleted`: entries of the trail on rows that the words named in full, where there is none now.
    """

    exact: object
    mats: list
    segments: list
    events: list
    work_orders: list
    notes: list
    deleted: list
    more: bool

    @property
    def total(self):
        return sum(map(len, (self.mats, self.segments, self.events, self.work_orders, self.notes)))


def find(text):
    """Capitals and small letters are the same. An exact code wins, unless two things have the same."""
    kinds = {
        "mats": (Mat.objects.with_register(), Q(number__icontains=text), Q(number__iexact=text)),
        "segments": (
            CableSegment.objects.select_related("cable_type"),
            Q(serial__icontains=text),
            Q(serial__iexact=text),
        ),
        "events": (Event.objects.all(), Q(code__icontains=text) | Q(name__icontains=text), Q(code__iexact=text)),
        "work_orders": (
            WorkOrder.objects.select_related("mat"),
            Q(number__icontains=text),
            Q(number__iexact=text),
        ),
        "notes": (
            Note.objects.with_subject(),
            Q(code__icontains=text) | Q(text__icontains=text),
            Q(code__iexact=text),
        ),
    }
    exact = [row for rows, _, same in kinds.values() for row in rows.filter(same)[:2]]
    hits = {name: list(rows.filter(alike)[: SHOWN + 1]) for name, (rows, alike, _) in kinds.items()}
    return Found(
        exact=exact[0] if len(exact) == 1 else None,
        deleted=[] if exact else was_called(text),
        more=any(len(rows) > SHOWN for rows in hits.values()),
        **{name: rows[:SHOWN] for name, rows in hits.items()},
    )
