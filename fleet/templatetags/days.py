"""Days of events and of fittings: `{% load days %}{{ event|days_in_short }}  {{ fitting|fitted_day }}`."""

from django import template

from ..choices import FittedBasis
from ..figures import short_day
from ..parsing.approximate_dates import fitted_in_words

register = template.Library()


@register.filter
def days_in_short(event):
    """8 May 2026; 8 to 9 May 2026; 30 Apr to 1 May 2026; 31 Dec 2026 to 1 Jan 2027."""
    first, last = event.starts_on, event.ends_on
    until = short_day(last)
    if first == last:
        return until
    if first.year != last.year:
        return f"{short_day(first)} to {until}"
    return f"{short_day(first).rsplit(' ', 2 if first.month == last.month else 1)[0]} to {until}"


@register.filter
def fitted_day(fitting):
    """Since when a cable is there: 3 Apr 2023; a guess as a guess: about Apr 2023, 31 Dec 2022 or earlier."""
    return fitted_in_words(fitting.fitted_on, fitting.fitted_basis)


@register.filter
def acquired_day(mat):
    """When a mat came: 3 Apr 2023; roughly: about Apr 2023; "" where it is not known."""
    return fitted_in_words(mat.acquired_on, mat.acquired_basis) if mat.acquired_on else ""


@register.filter
def on_fitted_day(fitting):
    """The same behind the word *fitted*: on 3 Apr 2023, about Apr 2023."""
    on = "on " if fitting.fitted_basis == FittedBasis.KNOWN else ""
    return f"{on}{fitted_day(fitting)}"
