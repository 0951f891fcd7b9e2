"""What is raised in one go, and what stands in front of orders that are printed together."""

import django_tables2 as tables
from django.utils.html import format_html

from fleet.templatetags.lengths import length_cell, length_unit

from ..tables import PlainTable
from ..templatetags.figures import counted, short_day, two_places
from .tables import TICK_BOX

_UNIT = {"data-unit": lambda record: length_unit(record.estimated)}


class DueMatTable(PlainTable):
    """The mats of which something is due, with the cables that go on an order and those that stand on one."""

    mat = tables.Column("Mat", linkify=True, attrs={"cell": {"class": "at-lead strong"}})
    depot = tables.Column("Depot", "mat__depot", default="", attrs={"cell": {"class": "bare"}})
    free = tables.Column("Cables to change", attrs={"cell": {"class": "num", "data-name": "to change"}})
    orders = tables.Column("On an order already, left out", default="", attrs={"cell": {"class": "bare wide"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Mats with something due"}

    def __init__(self, rows):
        super().__init__(rows, exclude=() if any(row.orders for row in rows) else ("orders",))

    def render_free(self, value):
        return len(value) or "none"

    def render_orders(self, value, record):
        return f"{counted(record.on_orders, 'cable')} on {', '.join(value)}" if value else ""


class PartsTable(PlainTable):
    """Cables to pull for all orders, by cable type and length; beside them what lies on the shelf."""

    cable_type = tables.Column("Cable type", attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column("Length, m", attrs={"th": {"class": "num at-end"}, "td": {"class": "num at-end"} | _UNIT})
    count = tables.Column(
        "To pull", attrs={"th": {"class": "num"}, "td": {"class": "num strong", "data-name": "to pull"}}
    )
    on_shelf = tables.Column("On the shelf", attrs={"cell": {"class": "num", "data-name": "on the shelf"}})
    missing = tables.Column("Missing", attrs={"cell": {"class": "num", "data-name": "missing"}})
    pulled = tables.Column("Pulled", "count", attrs={"cell": {"class": "bare"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables to pull"}

    def render_length_m(self, record):
        return length_cell(two_places(record.length_m), record.estimated)

    def render_missing(self, value):
        return format_html("<b>{}</b>", value) if value else "none"

    def render_pulled(self):
        return TICK_BOX


class BundleMatTable(PlainTable):
    """The orders of a bundle, each with a box to tick."""

    box = tables.Column("Done", "number", attrs={"cell": {"class": "bare"}})
    mat = tables.Column("Mat", attrs={"cell": {"class": "at-lead strong"}})
    depot = tables.Column("Depot", "mat__depot", default="", attrs={"cell": {"class": "bare"}})
    number = tables.Column("Work order", attrs={"cell": {"class": "nowrap"}})
    cables = tables.Column("Cables to do", "to_do", attrs={"cell": {"class": "num", "data-name": "to do"}})
    given_to = tables.Column("For", default="", attrs={"cell": {"class": "bare"}})
    planned_on = tables.Column("Planned", default="", attrs={"cell": {"class": "nowrap"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Mats"}

    def __init__(self, orders):
        told = ("given_to", "planned_on")
        super().__init__(orders, exclude=[name for name in told if not any(getattr(order, name) for order in orders)])

    def render_box(self):
        return TICK_BOX

    def render_planned_on(self, value):
        return short_day(value)
