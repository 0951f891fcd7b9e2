"""The shelf, a line a kind of cable."""

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from fleet.figures import short_day

from ..tables import PlainTable, named
from ..templatetags.figures import two_places


def _count(label):
    return tables.Column(label, attrs={"cell": {"class": "num", "data-name": named(label)}})


class ShelfTable(PlainTable):
    cable_type = tables.Column("Cable type", attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column("Length, m", attrs={"cell": {"class": "num at-end", "data-unit": "m"}})
    on_shelf = _count("On the shelf")
    where = tables.Column("Where", attrs={"cell": {"class": "bare"}})
    due_now = _count("Due now")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables on the shelf and due"}

    def __init__(self, kinds, last_day):
        more = [("due_by", _count(f"Due by {short_day(last_day)}")), ("missing", _count("Missing by then"))]
        super().__init__(kinds, extra_columns=more)

    def render_length_m(self, value):
        return two_places(value)

    def render_cable_type(self, value, record):
        """Leads to what lies there of the kind, and what came and went."""
        url = reverse("fleet:shelf-kind", args=[value, f"{record.length_m:.10g}"])
        return format_html('<a class="row-link" href="{}">{}</a>', url, value)

    def render_on_shelf(self, value):
        return value or "none"

    def render_where(self, value):
        """Each depot with its number; where nobody said, comes last."""
        return ", ".join(f"{depot or 'not said'}: {number}" for depot, number in value)

    def render_missing(self, value):
        return format_html("<b>{}</b>", value) if value else "none"
