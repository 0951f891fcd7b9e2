"""Days of events and of fittings: `{% load days %}{{ event|days_in_short }}  {{ fitting|fitted_day }}`."""

from django import template
from django.utils.formats import date_format

from ..choices import FittedBasis
from ..parsing.approximate_dates import given_span

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


@register.filter
def fitted_day(fitting):
    """Since when a cable is there: 3 Apr 2023; a guess as a guess: about Apr 2023, 31 Dec 2022 or earlier."""
    day = date_format(fitting.fitted_on, "j M Y")
    if fitting.fitted_basis == FittedBasis.NOT_LATER_THAN:
        return f"{day} or earlier"
    return f"about {_roughly(fitting.fitted_on) or day}" if fitting.fitted_basis == FittedBasis.ABOUT else day


def _roughly(day):
    """The month or year that was given; "" where it is not on record how roughly the day is known."""
    span = given_span(day)
    if span is None:
        return ""
    return date_format(span.first, "M Y" if span.first.month == span.last.month else "Y")
