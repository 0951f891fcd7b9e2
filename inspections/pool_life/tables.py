"""Groups of cables and how long they last; the same lives otherwise counted; the numbers behind a drawing."""

import django_tables2 as tables
import numpy as np
from django.utils.html import format_html

from fleet.figures import risk

from ..tables import PlainTable
from ..templatetags.figures import percent
from ..templatetags.life_text import (
    age_in_words,
    age_with_interval,
    group_name,
    otherwise_in_words,
    share_in_words,
)


def _column(heading, name, css="", **kwargs):
    """A column of which the phone says the name."""
    return tables.Column(heading, attrs={"cell": {"class": css, "data-name": name}}, empty_values=(), **kwargs)


def over_by(life, age):
    """Share over by an age: with its interval, at most so many, or that nobody watched so long."""
    if age > life.watched_until or life.bound is None:
        return "not watched"
    if not life.is_settled:
        return f"at most {percent(life.bound.share_over(age))}"
    return share_in_words(*life.curve.at(age))


def group_link(group, page, chosen, part):
    """The name of a group of a PoolLife, which leads to that part of its page; of the chosen one the name alone."""
    name = group_name(group, page.grouping)
    if group.key == chosen.key:
        return format_html('<b aria-current="true">{}</b>', name)
    query = {"by": page.grouping, "clock": page.clock, "group": group.key}
    address = "&".join(f"{key}={value}" for key, value in query.items() if value)
    return format_html('<a href="?{}#{}">{}</a>', address, part, name)


def reached(life, share, clock):
    """The age at which a share is over; of few failures the age before which it is not."""
    if life.bound is None:
        return "not known"
    if life.weibull is None:
        least = min(life.bound.age_at(share), life.watched_until)
        return f"not before {age_in_words(least, clock)}"
    if life.ages_at[share].age > life.watched_until:
        return "later than was watched"
    return age_with_interval(life.ages_at[share], clock)


class GroupTable(PlainTable):
    """Rows: `Group`."""

    group = tables.Column("Cables", "key", empty_values=(), attrs={"cell": {"class": "at-lead strong"}})
    read = _column("Read", "read", "num", accessor="life")
    over = _column("Went over", "went over", "num", accessor="life")
    watched = _column("Watched until", "watched until", accessor="life")
    early = _column("", "", accessor="life")
    damaged = _column("Damaged", "damaged", accessor="damaged")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "How long cables last"}

    def __init__(self, page, chosen):
        self.pool_life, self.chosen = page, chosen
        ages = [(f"over_{row}", _over_column(age, page.clock)) for row, age in enumerate(page.ages)]
        order = ("group", "read", "over", "watched", *(name for name, _ in ages), "early", "damaged")
        super().__init__([page.whole, *page.groups], extra_columns=ages, sequence=order)
        _name_early(self, page)

    def render_group(self, record):
        return group_link(record, self.pool_life, self.chosen, "curve")

    def render_read(self, value):
        return value.lives

    def render_over(self, value):
        return value.failures

    def render_watched(self, value):
        return age_in_words(value.watched_until, self.pool_life.clock)

    def render_early(self, value):
        return reached(value, self.pool_life.risk, self.pool_life.clock)

    def render_damaged(self, record):
        share, low, high = record.damaged
        return share_in_words(share, share, low, high) if share else "none"


class _OverColumn(tables.Column):
    def __init__(self, age, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.age = age

    def render(self, value):
        return over_by(value, self.age)


def _over_column(age, clock):
    words = f"Over by {age_in_words(age, clock)}"
    cell = {"class": "num", "data-name": f"by {age_in_words(age, clock)}"}
    return _OverColumn(age, words, accessor="life", attrs={"cell": cell}, empty_values=())


def _name_early(table, page):
    """The column of the age at which the accepted share is over tells which share that is."""
    said = f"{risk(page.risk)} over after"
    column = table.columns["early"].column
    column.verbose_name, column.attrs = said, {"cell": {"data-name": said}}


class OtherwiseTable(PlainTable):
    """Rows: `Otherwise`, and the whole pool as it stands before them."""

    how = tables.Column("Counted", "0", attrs={"cell": {"class": "at-lead wide"}})
    read = _column("Read", "read", "num", accessor="1")
    over = _column("Went over", "went over", "num", accessor="1")
    early = _column("", "", accessor="1")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "The same lives otherwise counted"}

    def __init__(self, page):
        self.pool_life = page
        rows = [("as above", page.whole.life)]
        rows += [(otherwise_in_words(other.how), other.life) for other in page.otherwise]
        super().__init__(rows)
        _name_early(self, page)

    def render_read(self, value):
        return value.lives

    def render_over(self, value):
        return value.failures

    def render_early(self, value):
        return reached(value, self.pool_life.risk, self.pool_life.clock)


def curve_rows(group, ages):
    """Behind the drawing: (age, how many were watched so long, least, most, low, high, Weibull share or None)."""
    life = group.life
    return [
        (age, *(life.curve.at(age) if life.is_settled else [None] * 4), _weibull_share(life, age), _most(life, age))
        for age in ages
        if age <= life.watched_until
    ]


def _weibull_share(life, age):
    return float(life.weibull.share_over(age)) if life.weibull else None


def _most(life, age):
    return None if life.is_settled or life.bound is None else float(life.bound.share_over(age))


def numbers_of(life):
    """[(what, its estimate, its interval)] of the Weibull life of a group."""
    fitted = life.weibull
    if fitted is None:
        return []
    return [
        ("Shape", f"{fitted.shape:.3f}", _range(life.shape_interval)),
        ("Scale", f"{fitted.scale:.3f}", _range(life.scale_interval)),
        ("Log likelihood", f"{fitted.log_likelihood:.3f}", ""),
    ]


def _range(ends):
    return "" if np.isnan(ends[0]) else f"{ends[0]:.3f} to {ends[1]:.3f}"
