"""How long fresh cables last as the trend says, group by group."""

import django_tables2 as tables
import numpy as np

from fleet.figures import risk

from ..tables import PlainTable
from ..templatetags.life_text import age_in_words, age_with_interval, share_in_words
from .tables import group_link


class TrendTable(PlainTable):
    """Rows: `TrendRow`."""

    group = tables.Column("Fresh cables", "key", empty_values=(), attrs={"cell": {"class": "at-lead strong"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "How long fresh cables last, as the trend says"}

    def __init__(self, page, chosen):
        self.pool_life, self.chosen = page, chosen
        shares = [(f"over_{row}", _share_column(row, age, page.clock)) for row, age in enumerate(page.ages)]
        said = {"early": f"{risk(page.risk)} over after", "half": "Half over after"}
        ages = [(name, _age_column(name, words, page.clock)) for name, words in said.items()]
        super().__init__(page.by_trend.rows, extra_columns=[*shares, *ages])

    def render_group(self, record):
        return group_link(record, self.pool_life, self.chosen, "by-trend")


class _ShareColumn(tables.Column):
    def __init__(self, row, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.row = row

    def render(self, value):
        share, low, high = value[self.row]
        return share_in_words(share, share, low, high)


class _AgeColumn(tables.Column):
    def __init__(self, clock, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.clock = clock

    def render(self, value):
        return age_with_interval(value, self.clock) if np.isfinite(value.age) else "later than was watched"


def _share_column(row, age, clock):
    words = age_in_words(age, clock)
    return _ShareColumn(row, f"Over by {words}", accessor="shares", attrs=_cell("num", f"by {words}"), empty_values=())


def _age_column(name, words, clock):
    return _AgeColumn(clock, words, accessor=name, attrs=_cell("", words[:1].lower() + words[1:]), empty_values=())


def _cell(css, name):
    return {"cell": {"class": css, "data-name": name}}
