"""What to buy: a line a kind of cable, the sets, and what it costs month by month."""

import django_tables2 as tables
from django.utils.formats import date_format

from fleet.figures import two_places
from fleet.templatetags.lengths import length_cell, length_unit

from ..tables import PlainTable, named
from ..templatetags.buying_cells import cable_cell, order_cell, price_cell, second
from ..templatetags.buying_text import amount, set_in_words
from ..templatetags.figures import short_day
from .plan_selectors import first_order


def _column(label, css="", name="", **attrs):
    """A column drawn by its `render_…`, whatever the row holds."""
    cell = {"class": css, "data-name": name or named(label)} | attrs
    head = css.replace("strong", "").strip()
    return tables.Column(label, empty_values=(), attrs={"th": {"class": head}, "td": cell})


def _length():
    unit = {"data-unit": lambda record: length_unit(record.estimated)}
    return _column("Length,\u00a0m", "num at-lead strong", "length", **unit)


class _KindCells:
    """How the cells of a KindPlan read, in whichever table; `on` and `may_keep` are the table's."""

    may_keep = False

    def render_length_m(self, record):
        return length_cell(two_places(record.length_m), record.estimated)

    def render_cable_type(self, record):
        return cable_cell(record)

    def render_needed(self, record):
        return second(record.needed, record.on_orders and f"{record.on_orders} on work orders")

    def render_buy_by(self, record):
        return order_cell(record, first_order(record, self.on), self.on) if record.singles else "in a set"

    def render_price(self, record):
        return price_cell(record, may_keep=self.may_keep)

    def render_cost(self, record):
        return amount(record.cost) if record.singles and record.cost is not None else ""


class KindTable(_KindCells, PlainTable):
    """Kinds of which something is to be bought."""

    length_m = _length()
    cable_type = _column("Cable type", "bare")
    needed = _column("Needed", "num")
    on_shelf = _column("On the shelf", "num")
    to_buy = _column("To buy", "num at-end strong")
    first_on = _column("First missing", "nowrap")
    buy_by = _column("Buy by", "nowrap")
    price = _column("Price", "num")
    cost = _column("Cost", "num")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables to buy"}

    def __init__(self, kinds, *, on, may_keep):
        self.on, self.may_keep = on, may_keep
        super().__init__(kinds)

    def render_to_buy(self, record):
        return second(record.to_buy, record.in_sets and f"{record.in_sets} in sets")

    def render_first_on(self, record):
        first_on = record.singles[0] if record.singles else record.first_on
        return "now" if first_on <= self.on else short_day(first_on)


class PaperTable(_KindCells, PlainTable):
    """What is ordered singly, as a supplier reads it."""

    number = _column("Supplier’s number", "nowrap")
    length_m = _length()
    cable_type = _column("Cable, feed end – element", "wide")
    to_buy = _column("To buy", "num strong")
    buy_by = _column("Buy by", "nowrap")
    price = _column("Price", "num")
    cost = _column("Cost", "num")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables to buy"}

    def __init__(self, kinds, *, on):
        self.on = on
        super().__init__([kind for kind in kinds if kind.singles])

    def render_number(self, record):
        return record.offer.supplier_number

    def render_cable_type(self, record):
        return second(record.cable_type, record.cable_type.connectors)

    def render_to_buy(self, record):
        return len(record.singles)


class CoveredTable(_KindCells, PlainTable):
    """Kinds of which the shelf holds enough."""

    length_m = _length()
    cable_type = _column("Cable type", "bare at-end")
    needed = _column("Needed", "num")
    on_shelf = _column("On the shelf", "num")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables that the shelf holds"}


class SetTable(PlainTable):
    """Sets of designs, weighed against single cables."""

    design = _column("Set of", "at-lead strong")
    count = _column("To buy", "num at-end strong")
    why = _column("Instead of", "bare wide")
    buy_by = _column("Buy by", "nowrap")
    price = _column("Price", "num")
    cost = _column("Cost", "num")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Sets to buy"}

    def __init__(self, sets, *, on):
        self.on = on
        super().__init__(sets)

    def render_design(self, record):
        return second(record.design, record.offer.supplier_number and f"no. {record.offer.supplier_number}")

    def render_count(self, record):
        return record.count or "none"

    def render_why(self, record):
        return set_in_words(record)

    def render_buy_by(self, record):
        return order_cell(record, first_order(record, self.on), self.on) if record.count else ""

    def render_price(self, record):
        return amount(record.offer.price)

    def render_cost(self, record):
        return amount(record.cost) if record.count else ""


class MonthTable(PlainTable):
    """Months in which something is to be ordered."""

    first = _column("Order in", "at-lead strong")
    cables = _column("Cables", "num", "single cables")
    sets = _column("Sets", "num")
    cost = _column("Cost", "num at-end")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cost by month"}

    def __init__(self, plan):
        months = [month for month in plan.months if month.cables or month.sets]
        super().__init__(months, exclude=() if plan.bought_sets else ("sets",))

    def render_first(self, value):
        return date_format(value, "F Y")

    def render_cables(self, record):
        return record.cables

    def render_sets(self, record):
        return record.sets or ""

    def render_cost(self, record):
        without = f"and {record.unpriced} without a price" if record.unpriced else ""
        return second(amount(record.cost), without)
