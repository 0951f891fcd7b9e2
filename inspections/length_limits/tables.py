"""Limits by length as tables, one of each design, with the address that fills them into its policy."""

from dataclasses import dataclass
from itertools import groupby

import django_tables2 as tables
from django.utils.http import urlencode

from fleet.models import MatDesign
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.durations import months_in_words

from ..numeric.words import Clock
from ..policy.selectors import NO_LIMIT, position_key
from ..tables import PlainTable
from ..templatetags.figures import figure, risk
from ..templatetags.life_text import age_in_words
from ..templatetags.limit_text import limit_in_words, share_with_interval
from .services import LIMIT_NAME


@dataclass(frozen=True)
class DesignLimits:
    """`query`: fills the page of the design's policy in; '' where nothing there would be other than now."""

    design: MatDesign
    table: tables.Table
    query: str


def design_limits(page):
    """[DesignLimits] of PoolLimits."""
    return [_of_design(page, list(rows)) for _, rows in groupby(page.rows, key=lambda row: row.design.pk)]


def _of_design(page, rows):
    proposals = {(row.position, row.today): page.proposal(row) for row in rows}
    changed = {place: value for (place, now), value in proposals.items() if value and abs(value - now) > 1e-9}
    design, name = rows[0].design, LIMIT_NAME[page.clock]
    query = urlencode({f"{position_key(design, n)}.{name}": _typed(value, page.clock) for n, value in changed.items()})
    return DesignLimits(design, LimitTable(page, rows), f"?{query}" if query else "")


def _typed(value, clock):
    return f"{value:.0f}" if clock == Clock.EVENTS else months_in_words(round(value * MONTHS_A_YEAR))


def _cell(name, css="num"):
    return {"cell": {"class": css, "data-name": name}}


class LimitTable(PlainTable):
    """Rows: `PositionLimit` of one design."""

    position = tables.Column("Position", attrs={"cell": {"class": "at-lead strong", "data-name": "position"}})
    length_m = tables.Column("Length, m", attrs=_cell("m"))
    age = tables.Column("", empty_values=(), attrs=_cell("limit", ""))
    today = tables.Column("Limit today", attrs=_cell("limit today", ""))
    today_share_over = tables.Column("Over before it", empty_values=(), attrs=_cell("over before it", ""))
    today_life_left = tables.Column("Life thrown away", empty_values=(), attrs=_cell("life thrown away"))

    class Meta(PlainTable.Meta):
        pass

    def __init__(self, page, rows):
        self.pool_limits = page
        super().__init__(rows)
        self.attrs = {"aria-label": f"Limits of {rows[0].design}"}
        self.columns["age"].column.verbose_name = f"{risk(rows[0].accepted_risk)} are over after"

    def render_length_m(self, value):
        return figure(value)

    def render_age(self, record):
        return limit_in_words(record, self.pool_limits)

    def render_today(self, value):
        return age_in_words(value, self.pool_limits.clock) if value else NO_LIMIT

    def render_today_share_over(self, record):
        return share_with_interval(record.today_share_over, record.today_low, record.today_high)

    def render_today_life_left(self, value):
        return share_with_interval(value, value, value)
