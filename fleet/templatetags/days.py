"""`{% load days %}{{ event|days_in_short }}`: the day or days of an event, as short as can be."""

from django import template
from django.utils.formats import date_format

register = template.Library()


@register.filter
def days_in_short(event):
    """8 May 2026; 8 to 9 May 2026; 30 Apr to 1 May 2026; 31 Dec 2026 to 1 Jan 2027."""
    first, last = event.starts_on, event.ends_on
    until = date_format(last, "j M Y")
    if first == last:
        return until
    if first.year != last.year:
        return f"{date_format(first, 'j M Y')} to {until}"
    return f"{date_format(first, 'j' if first.month == last.month else 'j M')} to {until}"
