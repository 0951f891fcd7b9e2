"""What the morning mail of each depot has to say on a day."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from fleet.models import Depot, Event, Mat
from fleet.selectors.usage import next_events_of

from ..assessment.policy_in_force import current_policy
from ..assessment.pool_fits import stored_fit
from ..assessment.services import assessments, with_related
from ..due.needed import Needed
from ..models import Assessment, Digest
from ..numeric.words import Status
from .shelf_selectors import to_buy

# so long before an event its mail goes out each morning, whether or not anything is new
EVENT_IS_NEAR = timedelta(days=7)


@dataclass(frozen=True)
class BeforeEvent:
    """What is to be changed before an event: (mat, number of cables) by mat number."""

    event: Event
    mats: tuple[tuple[Mat, int], ...]


@dataclass(frozen=True)
class DepotDigest:
    """`since`: the day of the last mail, None before the first. `new`, `older`: due now, by whether it said so."""

    depot: Depot
    on: date
    until: date
    since: date | None
    new: tuple[Assessment, ...]
    older: tuple[Assessment, ...]
    before: tuple[BeforeEvent, ...]
    buy: tuple[Needed, ...]
    more_to_buy: bool

    @property
    def has_news(self):
        near = any(each.event.starts_on <= self.on + EVENT_IS_NEAR for each in self.before)
        return bool(self.new) or near or self.more_to_buy

    @property
    def said(self):
        """As `Digest.said` keeps it."""
        due = sorted(row.segment_id for row in (*self.new, *self.older))
        return {"due": due, "buy": [[kind.length_m, kind.cable_type, kind.to_get] for kind in self.buy]}


def depots_with_mail(on):
    return list(Depot.objects.in_use(on).exclude(mail="").order_by("name"))


def depot_digests(on):
    """The DepotDigest of each depot in use that has an address, by name.

    Cables of mats without a depot are in every one: somebody has to be told. As many queries for many rows as for few.
    """
    depots = depots_with_mail(on)
    until = on + timedelta(days=int(current_policy().value("look_ahead_days")))
    assessed = with_related(assessments(on, fitted=stored_fit()), "segment", "mat", "before_event")
    events = next_events_of({row.mat_id for row in assessed}, on)
    last, buy = _last_digests(depots, on), to_buy(assessed, until, on)
    urgent = sorted(
        (row for row in assessed if row.status in (Status.CHANGE_NOW, Status.CHANGE_BEFORE)),
        key=lambda row: (row.mat.number, row.position),
    )
    return [_digest(depot, on, until, _of_depot(urgent, depot), events, last.get(depot.pk), buy) for depot in depots]


def _of_depot(rows, depot):
    return [row for row in rows if row.mat.depot_id in (depot.pk, None)]


def _digest(depot, on, until, rows, events, last, buy):
    said = last.said if last else {"due": [], "buy": []}
    now, named = [row for row in rows if row.status == Status.CHANGE_NOW], set(said["due"])
    counts = {(length_m, cable_type): count for length_m, cable_type, count in said["buy"]}
    return DepotDigest(
        depot,
        on,
        until,
        last.day if last else None,
        tuple(row for row in now if row.segment_id not in named),
        tuple(row for row in now if row.segment_id in named),
        tuple(_before(rows, events, until)),
        buy,
        any(kind.to_get > counts.get((kind.length_m, kind.cable_type), 0) for kind in buy),
    )


def _before(rows, events, until):
    """BeforeEvent of each event that begins by then, the soonest first."""
    waiting = [(row.before_event or events.get(row.mat_id), row.mat) for row in rows]
    waiting = [(event, mat) for event, mat in waiting if event and event.starts_on <= until]
    waiting.sort(key=lambda pair: (pair[0].starts_on, pair[0].code, pair[1].number))
    for event, pairs in groupby(waiting, key=lambda pair: pair[0]):
        by_mat = groupby(pairs, key=lambda pair: pair[1])
        yield BeforeEvent(event, tuple((mat, len(list(rows))) for mat, rows in by_mat))


def _last_digests(depots, on):
    """{depot key: the last mail before that day that is known to have gone}."""
    sent = Digest.objects.filter(depot__in=depots, day__lt=on).exclude(sent_at=None)
    # the newest is written last
    return {digest.depot_id: digest for digest in sent.order_by("day")}
