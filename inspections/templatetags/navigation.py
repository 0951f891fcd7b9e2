"""`{% load navigation %}{% navigation as nav %}`: the pages one can go to, listed once for desk and phone.

Seven groups, each opening on its first page; behind the account's name what is needed seldom. A page stands at the
place whose address its own begins with, the longest first, or at one that says `below` of it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from django import template
from django.urls import NoReverseMatch, reverse

from fleet.access import MAY_BENCH, MAY_KEEP, MAY_LOG, signed_in_by_link

from ..bench.place_selectors import somebody_measures

register = template.Library()

PLACES_AT_THUMB = 4


def everybody(context):
    return True


def who(permission):
    return lambda context: context["user"].has_perm(permission)


def several_depots(context):
    """A single one is not shown; the list of mats leads a keeper to name more."""
    return context.get("several_depots")


def with_a_password(context):
    """Whoever was signed in by a link has none of their own."""
    request = context.get("request")
    return request is None or not signed_in_by_link(request)


@dataclass(frozen=True)
class Place:
    """A page by the name of its address; `shown` is asked with the context of the page that lists it."""

    name: str
    label: str
    shown: Callable = everybody
    below: tuple = ()


@dataclass(frozen=True)
class Group:
    """`measuring`: hidden where no depot measures, but on its own pages."""

    label: str
    places: tuple
    measuring: bool = False


GROUPS = (
    Group("Today", (Place("inspections:today", "Today"),)),
    Group("Due", (Place("inspections:due-list", "Due"),)),
    Group(
        "Mats",
        (
            Place("fleet:mat-list", "Mats", below=("/notes/", "/fittings/")),
            Place("fleet:segment-list", "Cables"),
            Place("fleet:design-list", "Designs"),
            Place("fleet:cable-type-list", "Cable types"),
            Place("inspections:record-list", "Records"),
        ),
    ),
    Group(
        "Events",
        (
            Place("fleet:event-list", "Events", below=("/series/",)),
            Place("inspections:season", "Season"),
            Place("fleet:event-log", "Log an event", who(MAY_LOG)),
        ),
    ),
    Group(
        "Bench",
        (
            Place("inspections:bench", "Measure", who(MAY_BENCH), below=("/readings/",)),
            Place("inspections:sample-list", "Samples"),
            Place("inspections:batch-list", "Batches"),
            Place("inspections:sweep-list", "Sweeps"),
            Place("inspections:bench-day-list", "Bench days"),
            Place("inspections:piece-list", "Reference pieces", below=("/agreed-values/", "/piece-readings/")),
            Place("inspections:instrument-list", "Instruments"),
            Place("inspections:how-to-measure", "How to measure"),
        ),
        measuring=True,
    ),
    Group(
        "Workshop",
        (
            Place("inspections:work-order-list", "Work orders"),
            Place("fleet:fault-list", "Faults"),
            Place("inspections:shelf", "Shelf"),
            Place("inspections:buy", "To buy", below=("/prices/",)),
            Place("inspections:calendar", "Calendar"),
        ),
    ),
    Group(
        "Limits",
        (
            Place("inspections:policy", "Limits in force"),
            Place("inspections:pool", "Loss trend"),
            Place("inspections:lives", "How long cables last"),
        ),
    ),
)
ACCOUNT = (
    Place("fleet:depot-list", "Depots", several_depots),
    Place("fleet:people", "People", who(MAY_KEEP)),
    Place("inspections:files", "Files"),
    Place("inspections:copies", "Back-ups", who(MAY_KEEP)),
    Place("inspections:labels", "Labels"),
    Place("inspections:glossary", "Glossary"),
    Place("fleet:own-password", "Your account", with_a_password),
)
# what the bar on the phone has before the groups: acts that are done standing
AT_THUMB = (Place("fleet:event-log", "Log event", who(MAY_LOG)),)
# the groups that the bar has, those first that stand first here
GROUPS_AT_THUMB = ("Today", "Due", "Bench", "Mats", "Events", "Workshop")


@dataclass(frozen=True)
class Link:
    """`current` as `aria-current` has it: "page" on the page itself, "true" below it, "" elsewhere."""

    label: str
    address: str
    current: str = ""


@dataclass(frozen=True)
class GroupLinks:
    label: str
    address: str
    current: str
    links: list


@dataclass(frozen=True)
class Navigation:
    """`here`: the group of the page, None where it stands in none."""

    groups: list
    account: list
    thumb: list

    @property
    def here(self):
        return next((group for group in self.groups if group.current), None)


@register.simple_tag(takes_context=True)
def navigation(context):
    """What this person is offered, marked for the page they are on."""
    request = context.get("request")
    path = request.path if request else ""
    addresses = _addresses()
    standing = _standing(path, addresses)

    def links(places):
        shown = (place for place in places if addresses[place.name] and place.shown(context))
        return [Link(place.label, addresses[place.name], _mark(place, standing, addresses, path)) for place in shown]

    groups = [_group(group.label, links(group.places), path) for group in GROUPS if _is_shown(group, standing)]
    groups = [group for group in groups if group]
    return Navigation(groups, links(ACCOUNT), _thumb(groups, links(AT_THUMB), context["user"]))


def _addresses():
    """{name: its address, "" where the project has none of that name}."""
    return {place.name: _address(place.name) for place in (*_places(), *ACCOUNT, *AT_THUMB)}


def _address(name):
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


def _places():
    return [place for group in GROUPS for place in group.places]


def _standing(path, addresses):
    """The name of the place that the page at this path belongs to; None for none."""
    roots = [(root, place.name) for place in (*_places(), *ACCOUNT) for root in (addresses[place.name], *place.below)]
    found = [(len(root), name) for root, name in roots if root and _is_below(path, root)]
    return max(found)[1] if found else None


def _is_below(path, root):
    return path == root or (root != "/" and path.startswith(root))


def _mark(place, standing, addresses, path):
    if place.name != standing:
        return ""
    return "page" if addresses[place.name] == path else "true"


def _is_shown(group, standing):
    return not group.measuring or standing in {place.name for place in group.places} or somebody_measures()


def _group(label, links, path):
    """A group opens on the first of its pages that this person may see."""
    if not links:
        return None
    current = ("page" if links[0].address == path else "true") if any(link.current for link in links) else ""
    return GroupLinks(label, links[0].address, current, links)


def _thumb(groups, acts, user):
    """Four of the bar on the phone: no Bench for who does not measure, more of the groups for who does not log."""
    by_label = {group.label: Link(group.label, group.address, group.current) for group in groups}
    if not user.has_perm(MAY_BENCH):
        by_label.pop("Bench", None)
    found = [by_label[label] for label in GROUPS_AT_THUMB if label in by_label]
    return [*found[:2], *acts, *found[2:]][:PLACES_AT_THUMB]
