"""What is said of a bench day, in words: `{% load said_text %}`, then `{{ act|said_act_text }}`."""

from dataclasses import dataclass

from django import template

register = template.Library()


@dataclass(frozen=True)
class ActText:
    heading: str
    note: str
    button: str


@register.filter
def said_act_text(act):
    return _ACTS[act]


_ACTS = {
    "look": ActText(
        "The bench was looked at",
        "The readings of this day have their verdicts again. What the piece showed stays, and the shift of the day is "
        "taken out of its readings.",
        "I looked at it",
    ),
    "look again": ActText(
        "It was not looked at",
        "Where its reference piece was beyond its limits, the readings of this day have no verdict again.",
        "Take it back",
    ),
    "distrust": ActText(
        "This bench day is not to be trusted",
        "All its readings are kept. From today on none of them has a verdict, and none has a part in the trend.",
        "It is not to be trusted",
    ),
    "trust": ActText(
        "This bench day is to be trusted",
        "Its readings have their verdicts again, and their part in the trend, as if it had never been marked.",
        "It is to be trusted",
    ),
}
