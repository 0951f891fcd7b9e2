"""`{% load life_pages %}{% life_pages as pages %}`: the pages on how long cables last, and what follows from it.

`templates/inspections/pool_life/_pages.html` shows them as one line on top of each.
"""

from django import template
from django.urls import NoReverseMatch, reverse

from .navigation import Link

register = template.Library()

PAGES = (
    ("inspections:lives", "How long they last"),
    ("inspections:length-limits", "Limits by length"),
    ("inspections:rule-trial", "Rule against rule"),
    ("inspections:rule-cost", "What a rule costs"),
    ("inspections:limit-card", "Card to print"),
)


@register.simple_tag(takes_context=True)
def life_pages(context):
    """[Link], without those that the project has no address for."""
    request = context.get("request")
    path = request.path if request else ""
    addresses = [(label, _address(name)) for name, label in PAGES]
    return [Link(label, address, "page" if address == path else "") for label, address in addresses if address]


def _address(name):
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
