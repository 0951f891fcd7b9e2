"""What rules cost as tables, two of each design: what to do, and the numbers behind it."""

from dataclasses import dataclass
from itertools import groupby

import django_tables2 as tables
import numpy as np

from fleet.models import MatDesign

from ..policy.selectors import NO_LIMIT
from ..tables import PlainTable, template_cell
from ..templatetags.cost_text import (
    age_between,
    age_span,
    cheapest_in_words,
    cost_act,
    money,
    money_span,
    over_in_words,
)
from ..templatetags.life_text import age_in_words
from ..templatetags.limit_text import of_a_hundred


@dataclass(frozen=True)
class DesignCosts:
    design: MatDesign
    table: tables.Table
    numbers: tables.Table


def design_costs(page):
    """[DesignCosts] of RuleCosts."""
    found = ((design, list(rows)) for design, rows in groupby(page.rows, key=lambda row: row.place.design))
    return [DesignCosts(design, CostTable(page, rows), NumbersTable(page, rows)) for design, rows in found]


def _column(heading, css=""):
    return tables.Column(heading, "row", empty_values=(), attrs={"cell": {"class": css, "data-name": heading.lower()}})


class CostTable(PlainTable):
    """Rows: `PlaceCosts` of one design."""

    length = template_cell("rule_cost/_length_cell.html", "Cables", "at-lead")
    today = _column("Limit today")
    best = _column("Cheapest at")
    over = _column("Over by then")
    more = _column("Today costs more a year", "num")
    act = tables.Column("What to do", "row", empty_values=(), attrs={"cell": {"class": "wide", "data-name": ""}})

    class Meta(PlainTable.Meta):
        pass

    def __init__(self, page, rows):
        self.rule_costs = page
        super().__init__([{"row": row} for row in rows])
        self.attrs = {"aria-label": f"Costs of {rows[0].place.design}"}

    def render_today(self, value):
        return _limit(value.place)

    def render_best(self, value):
        return cheapest_in_words(value, self.rule_costs)

    def render_over(self, value):
        return over_in_words(value.over_before)

    def render_more(self, value):
        # rounding may leave less than nothing
        return money_span(np.maximum(value.more, 0.0))

    def render_act(self, value):
        return cost_act(value, self.rule_costs)


class NumbersTable(PlainTable):
    """Rows: a PlaceCosts and one of the two costs of an event."""

    length = template_cell("rule_cost/_length_cell.html", "Cables", "at-lead")
    event = _column("An event costs", "num")
    age = _column("Cheapest at (90 % interval)")
    nearly = _column("At most 5 % dearer")
    over = _column("Over by then")
    cost = _column("A cable and year, cheapest", "num")
    today = _column("Today", "num")
    never = _column("Not by age", "num")

    class Meta(PlainTable.Meta):
        pass

    def __init__(self, page, rows):
        self.rule_costs = page
        ends = [0] if np.ptp(page.work.event_costs) == 0 else [0, 1]
        super().__init__([{"row": row, "end": end} for row in rows for end in ends])
        self.attrs = {"aria-label": f"Numbers behind the costs of {rows[0].place.design}"}

    def render_event(self, record):
        return money(self.rule_costs.work.event_costs[record["end"]])

    def render_age(self, record):
        row, end = record["row"], record["end"]
        age, low, high = (float(part[end]) for part in (row.best.age, row.age_low, row.age_high))
        words = age_span([age], self.rule_costs.clock)
        return words if low == high else f"{words} ({age_between(low, high, self.rule_costs.clock)})"

    def render_nearly(self, record):
        best, end = record["row"].best, record["end"]
        return age_between(float(best.low[end]), float(best.high[end]), self.rule_costs.clock)

    def render_over(self, record):
        return of_a_hundred(float(record["row"].over_before[record["end"]]))

    def render_cost(self, record):
        row, end = record["row"], record["end"]
        return _money_with_interval(row.best.cost[end], row.cost_low[end], row.cost_high[end])

    def render_today(self, record):
        row, end = record["row"], record["end"]
        return _money_with_interval(row.today_cost[end], row.today_low[end], row.today_high[end])

    def render_never(self, record):
        return money(record["row"].never_cost[record["end"]])


def _money_with_interval(value, low, high):
    words, ends = money(value), (money(low), money(high))
    return words if ends == (words, words) else f"{words} ({ends[0]} to {ends[1]})"


def _limit(place):
    return age_in_words(place.today, place.wear_clock) if np.isfinite(place.today) else NO_LIMIT
