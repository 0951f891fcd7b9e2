"""A morning mail in words: its subject, and its text in plain lines."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from ..templatetags.figures import counted, day_by_name, short_day, two_places
from ..templatetags.reason_text import why

# a mail is read on a phone: what does not fit is counted, and stands on the due list
MOST_LINES = 30
NO_ADDRESS = "This mail has no links, because HALFPOWER_ADDRESS is not set."
LAST_WORDS = "Gradual wear only: no forecast covers a crushed cable or a torn connector."


@dataclass(frozen=True)
class Letter:
    subject: str
    text: str


def letter_of(digest, pool_address):
    """The Letter of a DepotDigest; `pool_address` "" where nobody said how the pool is reached."""
    parts = (_became_due(digest), _before_events(digest), _buy(digest), _foot(digest, pool_address))
    return Letter(_subject(digest), "\n\n".join("\n".join(lines) for lines in parts if lines) + "\n")


def _subject(digest):
    parts = []
    if digest.new:
        parts.append(f"{counted(len(digest.new), 'cable')} became due")
    if digest.before:
        first = digest.before[0]
        day = day_by_name(first.event.starts_on, digest.on)
        parts.append(f"{counted(len(first.mats), 'mat')} before {first.event.name}, {day}")
    if digest.more_to_buy:
        parts.append(f"{counted(sum(kind.to_get for kind in digest.buy), 'cable')} to buy")
    return f"{digest.depot}: {'; '.join(parts) or 'nothing new'}"


def _became_due(digest):
    since = f" since {short_day(digest.since)}" if digest.since else ""
    lines = [f"Became due{since}: {counted(len(digest.new), 'cable')}"] if digest.new else ["Nothing became due."]
    lines += _at_most([f"  {_cable(row, digest)}" for row in digest.new])
    if digest.older:
        it = "it was" if len(digest.older) == 1 else "they were"
        lines.append(f"Still due: {counted(len(digest.older), 'cable')}, as {it} in the mail before.")
    return lines


def _cable(row, digest):
    depot = "" if row.mat.depot_id == digest.depot.pk else " (no depot)"
    return f"{row.mat.at_start}{depot} position {row.position}, {two_places(row.segment.length_m)} m: {why(row)}"


def _before_events(digest):
    lines = [f"  {each.event.name}, {short_day(each.event.starts_on)}: {_mats(each.mats)}" for each in digest.before]
    return ["To change before events", *_at_most(lines)] if lines else []


def _mats(mats):
    return ", ".join(f"{mat} ({counted(cables, 'cable')})" for mat, cables in mats)


def _buy(digest):
    lines = [f"  {kind.to_get} × {two_places(kind.length_m)} m {kind.cable_type}" for kind in digest.buy]
    if not lines:
        return []
    head = f"To buy for the whole pool, for what is due by {short_day(digest.until)} and is not on the shelf"
    return [head, *_at_most(lines)]


def _foot(digest, pool_address):
    query = urlencode({"depot": digest.depot.name})
    where = f"The due list: {pool_address}{reverse('inspections:due-list')}?{query}" if pool_address else NO_ADDRESS
    to = ", ".join(digest.depot.addresses)
    return [where, LAST_WORDS, f"To {to}. A keeper of the pool changes that on the page Depots."]


def _at_most(lines):
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], f"  and {more} more"] if more > 0 else lines
