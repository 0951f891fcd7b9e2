"""Limits by length as tables, two of each design: what to do, and the numbers behind it."""

from dataclasses import dataclass
from itertools import groupby

import django_tables2 as tables

from fleet.models import MatDesign

from ..policy.selectors import NO_LIMIT
from ..tables import PlainTable, template_cell
from ..templatetags.figures import risk
from ..templatetags.life_text import age_in_words
from ..templatetags.limit_text import (
    limit_in_figures,
    limit_in_words,
    of_a_hundred,
    seen_in_words,
    share_with_interval,
    to_do,
)
from .services import PositionLimit


@dataclass(frozen=True)
class LengthGroup:
    """Positions of a design that are alike: `row` is any of them."""

    row: PositionLimit
    positions: tuple[int, ...]


@dataclass(frozen=True)
class DesignLimits:
    design: MatDesign
    groups: list[LengthGroup]
    table: tables.Table
    numbers: tables.Table


def design_limits(page, further=0.0):
    """[DesignLimits] of PoolLimits, those first that have cables to change first; `further`: what the page proposes
    beyond what was watched."""
    groups = [(design, _groups(rows)) for design, rows in groupby(page.rows, key=lambda row: row.design)]
    groups.sort(key=lambda found: not any(group.row.comes_first for group in found[1]))
    return [_of_design(page, design, found, further) for design, found in groups]


def _of_design(page, design, groups, further):
    return DesignLimits(design, groups, LimitTable(page, groups, further), NumbersTable(page, groups))


def _groups(rows):
    """Long ones first, for they are due first."""
    alike = {}
    for row in sorted(rows, key=lambda row: (-row.length_m, row.position)):
        alike.setdefault((row.length_m, row.today), []).append(row)
    return [LengthGroup(same[0], tuple(row.position for row in same)) for same in alike.values()]


def _cell(name, css=""):
    return {"cell": {"class": css, "data-name": name}}


class _GroupTable(PlainTable):
    """Rows: `LengthGroup` of one design."""

    length = template_cell("length_limits/_length_cell.html", "Cables", "at-lead")

    class Meta(PlainTable.Meta):
        pass

    def __init__(self, page, groups, what):
        self.pool_limits = page
        super().__init__(groups)
        self.attrs = {"aria-label": f"{what} of {groups[0].row.design}"}
        share = f"{risk(groups[0].row.accepted_risk)} are over after"
        self.columns["age"].column.verbose_name = share
        self.columns["age"].column.attrs = _cell(share)


class LimitTable(_GroupTable):
    today = tables.Column("Limit today", "row__today", attrs=_cell("limit today"))
    over = tables.Column("Over by then", "row", empty_values=(), attrs=_cell("over by then"))
    left = tables.Column("Life thrown away", "row", empty_values=(), attrs=_cell("life thrown away", "num"))
    age = tables.Column("", "row", empty_values=())
    act = tables.Column("What to do", "row", empty_values=(), attrs=_cell("", "wide"))

    class Meta(_GroupTable.Meta):
        sequence = ("length", "today", "over", "left", "age", "act")

    def __init__(self, page, groups, further):
        self.further = further
        super().__init__(page, groups, "Limits")

    def render_today(self, value):
        return age_in_words(value, self.pool_limits.clock) if value else NO_LIMIT

    def render_over(self, value):
        return of_a_hundred(value.today_share_over)

    def render_left(self, value):
        return share_with_interval(*[value.today_life_left] * 3)

    def render_age(self, value):
        return limit_in_words(value, self.pool_limits)

    def render_act(self, value):
        return to_do(value, self.pool_limits, self.further)


class NumbersTable(_GroupTable):
    age = tables.Column("", "row", empty_values=())
    over = tables.Column("Over before today’s limit", "row", empty_values=(), attrs=_cell("over before it"))
    read = tables.Column("Read, about as long", "row__read", attrs=_cell("read, about as long", "num"))
    seen = tables.Column("Seen at that age", "row", empty_values=(), attrs=_cell("seen"))

    class Meta(_GroupTable.Meta):
        pass

    def __init__(self, page, groups):
        super().__init__(page, groups, "Numbers behind the limits")

    def render_age(self, value):
        return limit_in_figures(value, self.pool_limits)

    def render_over(self, value):
        return share_with_interval(value.today_share_over, value.today_low, value.today_high)

    def render_seen(self, value):
        return seen_in_words(value, self.pool_limits)
