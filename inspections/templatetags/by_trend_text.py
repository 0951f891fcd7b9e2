"""Whether the trend agrees with what checks saw, in words: `{% load by_trend_text %}`, then

{{ agreement|checks_against_trend }}   a sentence or two; of None, that nothing tells
{{ page|trend_in_short }}              what share of fresh cables is over by today's limit, and which group comes first
"""

from django import template

from fleet.parsing.counts import counted

from .life_text import age_in_words, group_name, share_in_words

register = template.Library()


@register.filter
def checks_against_trend(found):
    """Of an Agreement."""
    if found is None or not found.lives:
        return "No sample or routine reading yet says whether the trend is right."
    checked = f"{counted(found.lives, 'cable')} were checked"
    if not found.tells:
        return f"{checked}. Too few went over, or should have, to say whether the trend is right: it stands alone."
    if not found.disagrees:
        return f"The trend agrees with what checks saw: {checked}, and {_often(found)}."
    return (
        f"The trend does not agree with what checks saw: {_how(found)}. Do not go by its numbers before you know why: "
        "cables that fail at once, some that wear far faster than others, or readings of another cable."
    )


@register.filter
def trend_in_short(page):
    """Of a PoolLife with a trend; by the last age of the table where there is no limit today."""
    age = page.whole.limit if page.whole.limit in page.ages else page.ages[-1]
    column = page.ages.index(age)
    until = f"{'today’s limit of ' * (age == page.whole.limit)}{age_in_words(age, page.clock)}"
    whole, *groups = page.by_trend.rows
    said = f"By {until} {_share(whole, column)} of fresh cables are over"
    if len(groups) < 2:
        return f"{said}."
    first = max(groups, key=lambda row: row.shares[column][0])
    name = group_name(first, page.grouping)
    return f"{said}. {name} go first: {_share(first, column)}."


def _share(row, column):
    share, low, high = row.shares[column]
    return share_in_words(share, share, low, high)


def _often(found):
    return f"they went over {found.times:.2f} times as often as it says ({found.low:.2f} to {found.high:.2f})"


def _how(found):
    """What departs most."""
    if abs(found.more) >= abs(found.late):
        return _often(found)
    if found.late > 0:
        return "the first cables go over later than it says, and the last ones sooner"
    return "the first cables go over sooner than it says, and the last ones later"
