"""The shelf, a line a kind of cable."""

from urllib.parse import urlencode

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from fleet.figures import short_day
from fleet.selectors.segments import SHELF

from ..tables import PlainTable, named
from ..templatetags.figures import two_places


def _count(label):
    return tables.Column(label, attrs={"cell": {"class": "num", "data-name": named(label)}})


class ShelfTable(PlainTable):
    cable_type = tables.Column("Cable type", attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column("Length, m", attrs={"cell": {"class": "num at-end", "data-unit": "m"}})
    on_shelf = _count("On the shelf")
    due_now = _count("Due now")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables on the shelf and due"}

    def __init__(self, kinds, last_day):
        more = [("due_by", _count(f"Due by {short_day(last_day)}")), ("missing", _count("Missing by then"))]
        super().__init__(kinds, extra_columns=more)

    def render_length_m(self, value):
        return two_places(value)

    def render_on_shelf(self, value, record):
        """Those that lie there, as the list of cables shows them."""
        if not value:
            return "none"
        asked = {"where": SHELF, "cable_type": record.cable_type, "length_m": record.length_m}
        return format_html('<a href="{}?{}">{}</a>', reverse("fleet:segment-list"), urlencode(asked), value)

    def render_missing(self, value):
        return format_html("<b>{}</b>", value) if value else "none"
