"""How long cables last as the trend says, in words: `{% load by_trend_text %}`, then

{{ page|trend_in_short }}  what share of fresh cables is over by today's limit, and which group comes first
"""

from django import template

from .life_text import age_in_words, group_name, share_in_words

register = template.Library()


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
