"""What to buy, in words: `{% load buying_text %}{{ plan|to_buy_in_words }}`, and amounts: `{{ cost|amount }}`."""

from django import template

from fleet.templatetags.lengths import metres

from .figures import counted, short_day

register = template.Library()


@register.filter
def amount(value):
    """1,234.50 in whatever the pool pays; nobody knows: no price."""
    return "no price" if value is None else f"{value:,.2f}"


@register.filter
def to_buy_in_words(plan):
    """How many, the first by when, and for how much."""
    if not plan.needed:
        return "No cable is needed in the next twelve months."
    if not plan.to_buy:
        return f"{_needed(plan)} The shelf holds enough of each."
    return " ".join(filter(None, [f"{_needed(plan)} {_to_buy(plan)}", _first(plan), _for_how_much(plan)]))


def _needed(plan):
    return f"{counted(plan.needed, 'cable')} {_is(plan.needed)} needed in the next twelve months."


def _to_buy(plan):
    number = plan.to_buy
    return f"{number} of them {_is(number)} not on the shelf."


def _first(plan):
    day = plan.first_buy_by
    if day is None:
        return ""
    return (
        f"Order the first now: that was to be done by {short_day(day)}."
        if day < plan.on
        else f"Order the first by {short_day(day)}."
    )


def _for_how_much(plan):
    if not plan.cost:
        return "No price is known." if plan.unpriced else ""
    without = f", without {plan.unpriced} of which no price is known" if plan.unpriced else ""
    return f"{'Together they cost' if plan.to_buy > 1 else 'It costs'} {amount(plan.cost)}{without}."


@register.filter
def set_in_words(plan):
    """Of a SetPlan: what it saves, or why no set is bought."""
    if plan.unknown:
        kinds = ", ".join(f"{metres(length_m)} {name}" for name, length_m in plan.unknown)
        return f"not weighed: {kinds} {'has' if len(plan.unknown) == 1 else 'have'} no price"
    if not plan.count:
        return "single cables cost less, or the same"
    left = f"; {counted(plan.left_over, 'cable')} left over" if plan.left_over else ""
    return f"{amount(plan.saved)} as single cables{left}"


@register.filter
def more_in_words(more, plan):
    """The chance line: *7 dated, 2 to 5 more by chance*."""
    dated = len(plan.segments)
    expected = f"{more.least} to {more.most} more" if more.most > more.least else f"{more.least or 'no'} more"
    return f"{counted(dated, 'cable')} dated, {expected} by chance."


def _is(number):
    return "is" if number == 1 else "are"
