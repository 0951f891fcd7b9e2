"""`{% load navigation %}<ul>{% nav_links "desk" %}</ul>`: the pages one can go to, listed once for desk and phone."""

from collections.abc import Callable
from dataclasses import dataclass

from django import template

from fleet.access import MAY_BENCH, MAY_KEEP, MAY_LOG, signed_in_by_link

register = template.Library()

# DESK: the links at the top; MORE: what "More" opens there; THUMB: the bar on the phone; MENU: what its menu opens.
DESK, MORE, THUMB, MENU = "desk", "more", "thumb", "menu"
PLACES_AT_THUMB = 4


def everybody(context):
    return True


def several_depots(context):
    return context.get("several_depots")


def who(permission):
    return lambda context: context["user"].has_perm(permission)


def with_a_password(context):
    """Whoever was signed in by a link has none of their own."""
    request = context.get("request")
    return request is None or not signed_in_by_link(request)


@dataclass(frozen=True)
class Place:
    """A page by the name of its address; `shown` is asked with the context of the page that lists it."""

    name: str
    label: str
    bars: tuple
    shown: Callable = everybody


PLACES = (
    Place("inspections:today", "Today", (DESK, THUMB)),
    Place("inspections:due-list", "Due", (DESK, THUMB)),
    Place("fleet:mat-list", "Mats", (DESK, MENU)),
    Place("fleet:segment-list", "Cables", (DESK, MENU)),
    Place("fleet:event-list", "Events", (DESK, MENU)),
    Place("fleet:event-log", "Log event", (THUMB,), who(MAY_LOG)),
    Place("inspections:bench", "Bench", (DESK, THUMB), who(MAY_BENCH)),
    Place("inspections:work-order-list", "Work orders", (DESK, MENU)),
    Place("inspections:pool", "The pool’s trend", (MORE,)),
    Place("fleet:design-list", "Mat designs", (MORE,)),
    Place("fleet:cable-type-list", "Cable types", (MORE,)),
    Place("fleet:depot-list", "Depots", (MORE,), several_depots),
    Place("inspections:bench-day-list", "Bench days", (MORE,)),
    Place("inspections:sample-list", "Samples", (MORE,)),
    Place("inspections:sweep-list", "Sweeps", (MORE,)),
    Place("inspections:batch-list", "Batches", (MORE,)),
    Place("inspections:instrument-list", "Instruments", (MORE,)),
    Place("inspections:piece-list", "Reference pieces", (MORE,)),
    Place("inspections:record-list", "Records of mats", (MORE,)),
    Place("inspections:policy", "Policy", (MORE,)),
    Place("inspections:files", "Files", (MORE,)),
    Place("fleet:people", "People", (MORE,), who(MAY_KEEP)),
    Place("fleet:own-password", "Your account", (MORE,), with_a_password),
)


@register.inclusion_tag("includes/_nav_links.html", takes_context=True)
def nav_links(context, bar):
    """The links of a bar as list items. On the phone, who may not log gets the first places of the menu."""
    places = _places_of(bar, context)
    if bar == THUMB:
        places = [*places, *_places_of(MENU, context)][:PLACES_AT_THUMB]
    return {"places": places, "bar": bar, "request": context.get("request")}


def _places_of(bar, context):
    return [place for place in PLACES if bar in place.bars and place.shown(context)]
