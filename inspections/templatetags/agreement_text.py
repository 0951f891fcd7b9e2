"""Whether the trend agrees with what checks saw, in words: `{% load agreement_text %}`, then

{{ agreement|checks_against_trend }}   a sentence or two; of None, that nothing tells
"""

from django import template

from fleet.figures import figure
from fleet.parsing.counts import counted

register = template.Library()


@register.filter
def checks_against_trend(found):
    """Of an Agreement."""
    if found is None or not found.lives:
        return "No sample or routine reading yet says whether the trend is right."
    checked = f"{counted(found.lives, 'cable')} were checked"
    if not found.tells:
        return f"{checked}. Too few went over, or should have, to say whether the trend is right: it stands alone."
    if found.is_close:
        return f"The trend agrees with what checks saw: {checked}, and went over {_often(found)}."
    if not found.disagrees:
        said = "What checks saw does not contradict the trend, but shows little"
        return f"{said}: {checked}, and went over {_often(found)}."
    return (
        f"The trend does not agree with what checks saw: {_how(found)}. Do not go by its numbers before you know why: "
        "cables that fail at once, some that wear far faster than others, or readings of another cable."
    )


def _how(found):
    """What departs most."""
    if abs(found.more) >= abs(found.late):
        return f"cables went over {_often(found)}"
    if found.late > 0:
        return "the first cables go over later than it says, and the last ones sooner"
    return "the first cables go over sooner than it says, and the last ones later"


def _often(found):
    times, low, high = (figure(float(f"{number:.2g}")) for number in (found.times, found.low, found.high))
    return f"{times} times as often as it says ({low} to {high})"
