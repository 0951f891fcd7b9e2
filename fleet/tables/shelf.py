"""The ledger of the shelf, and what belongs to a lot."""

from urllib.parse import urlencode

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from ..access import name_of
from ..figures import short_day, two_places
from ..models import StockEntry
from ..models.stock import kind_length
from ..selectors.shelf import Kind
from .sorting import sorted_by

NOT_SAID = "not said"


def signed(number):
    """A change as people read it: a minus of its own, and a plus."""
    return f"{'+' if number > 0 else '−'}{abs(number)}"


class LedgerTable(tables.Table):
    """Entries of the ledger, the newest first. `of_kind`: all of one kind, which the page names."""

    day = tables.Column(attrs={"cell": {"class": "at-lead nowrap"}})
    change = tables.Column("Change", attrs={"th": {"class": "num at-end"}, "td": {"class": "num at-end strong"}})
    what = tables.Column(empty_values=(), orderable=False, attrs={"cell": {"class": "bare"}})
    reason = tables.Column("Why", attrs={"cell": {"class": "bare wide"}})
    depot = tables.Column(default=NOT_SAID, attrs={"cell": {"class": "bare"}})
    left = tables.Column("Then there", orderable=False, attrs={"cell": {"class": "num", "data-name": "then there"}})
    recorded_by = tables.Column("By", default="", orderable=False, attrs={"cell": {"class": "at-desk"}})

    class Meta:
        model = StockEntry
        fields = ("day", "change", "what", "reason", "depot", "left", "recorded_by")
        attrs = {"aria-label": "Ledger of the shelf"}

    order_day = sorted_by("day", then=["number"])
    order_depot = sorted_by("depot__name", then=["-number"])
    order_reason = sorted_by("reason", then=["-number"])
    order_change = sorted_by("change", then=["-number"])

    def __init__(self, entries, *, of_kind=False, **kwargs):
        self.of_kind = of_kind
        super().__init__(entries, **kwargs)

    def render_day(self, value):
        return short_day(value)

    def render_change(self, value):
        return signed(value)

    def render_left(self, value, record):
        """Of a cable with a serial there is nothing to count."""
        return "" if record.segment_id else value

    def render_what(self, record):
        lot = f", lot {record.lot}" if record.lot else ""
        if record.segment_id:
            named = format_html('<a href="{}">{}</a>', record.segment.get_absolute_url(), record.segment)
        else:
            named = "without a serial"
        if self.of_kind:
            return format_html("{}{}", named, lot)
        kind = Kind(record.cable_type, kind_length(record.length_m))
        url, length = kind.get_absolute_url(), two_places(record.length_m)
        return format_html('<a href="{}">{} m {}</a>: {}{}', url, length, record.cable_type, named, lot)

    def render_reason(self, value, record):
        said = [word for word in (record.work_order and f"work order {record.work_order}", record.note) if word]
        return f"{value}: {', '.join(said)}" if said else value

    def render_recorded_by(self, value):
        return name_of(value)


def ledger_of_cable(segment):
    """How often one cable came to the shelf and left it; None where that is not told."""
    entries = list(segment.stock_entries.with_names())
    return LedgerTable(entries, exclude=("what", "left"), orderable=False) if entries else None


def _count(label):
    return tables.Column(label, attrs={"cell": {"class": "num", "data-name": label.lower()}})


class LotTable(tables.Table):
    lot = tables.Column(attrs={"cell": {"class": "at-lead strong"}})
    in_mats = _count("In mats")
    on_shelf = _count("On the shelf")
    counted = _count("Without a serial")
    withdrawn = _count("Withdrawn")

    class Meta:
        attrs = {"aria-label": "Lots"}

    def render_lot(self, value):
        return format_html('<a href="{}?{}">{}</a>', reverse("fleet:lot"), urlencode({"lot": value}), value)
