"""What is coming, in words: `{% load coming_text %}{{ coming|coming_in_words }}`."""

from django import template
from django.utils.formats import date_format

from .figures import counted

register = template.Library()


@register.filter
def coming_in_words(coming):
    """Of a ComingDue: how many fall due, when most of them do, and why; what a usual month of the last year took."""
    now, *ahead = coming.months
    said = [_ahead(sum(month.cables for month in ahead), len(ahead) - 1), _already(now), _highest(coming.highest)]
    if coming.usual:
        said.append(f"In a usual month of the last year {counted(round(coming.usual, 1), 'cable')} came out.")
    return " ".join(filter(None, [*said, _shelf(coming)]))


def _shelf(coming):
    """How far the shelf goes, where it is asked."""
    if not coming.knows_the_shelf:
        return ""
    month = coming.first_missing
    if month is None:
        return "The shelf holds enough for all of them."
    if month.first is None:
        return f"For what is due already {counted(month.missing, 'cable')} {_is(month.missing)} missing on the shelf."
    return f"The first cable is missing on the shelf in {date_format(month.first, 'F Y')}."


def _is(number):
    return "is" if number == 1 else "are"


def _ahead(cables, months):
    return f"{counted(cables, 'cable')} {_fall(cables)} due in the next {months} months."


def _already(now):
    return f"{counted(now.cables, 'cable')} {'is' if now.cables == 1 else 'are'} due already." if now.cables else ""


def _highest(month):
    if month is None:
        return ""
    name = date_format(month.first, "F Y")
    why = {0: "none", month.cables: "all"}.get(month.by_limit, f"{month.by_limit}")
    return f"Most of them in {name}: {month.cables}, {why} of them by age or events alone."


def _fall(number):
    return "falls" if number == 1 else "fall"
