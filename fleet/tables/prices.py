"""The price list."""

import django_tables2 as tables
from django.utils.html import format_html

from ..figures import two_places
from ..models import Price
from .actions import actions_column
from .sorting import sorted_by

NOT_RECORDED = format_html('<span class="quiet">{}</span>', "not recorded")


def _column(label, css, name="", unit=None, **kwargs):
    """Drawn whatever the row holds; on the phone with the unit where there is a figure."""
    cell = {"class": css, "data-name": name, "data-unit": unit or ""}
    return tables.Column(label, empty_values=(), attrs={"th": {"class": css}, "td": cell}, **kwargs)


class PriceTable(tables.Table):
    """`lead_times`: {cable type's key: days} of every length of a type that has no line of its own."""

    what = _column("Cable or set", "at-lead")
    length_m = _column("Length,\u00a0m", "num at-end", unit=lambda record: "m" if record.length_m else "")
    price = _column("Price", "num", "price")
    lead_time_days = _column(
        "Lead time,\u00a0days", "num", "lead time", lambda record: "days" if record.lead_time_days else ""
    )
    supplier_number = _column("Supplier’s number", "bare")
    actions = actions_column("fleet/_price_actions.html", "bare nowrap screen")

    class Meta:
        model = Price
        fields = ("what", "length_m", "price", "lead_time_days", "supplier_number", "actions")
        attrs = {"aria-label": "Prices"}

    order_what = sorted_by("design__code", "cable_type__name", then=["length_m", "pk"])
    order_length_m = sorted_by("length_m", then=["pk"])
    order_price = sorted_by("price", then=["pk"])
    order_lead_time_days = sorted_by("lead_time_days", then=["pk"])
    order_supplier_number = sorted_by("supplier_number", then=["pk"])

    def __init__(self, *args, lead_times, may_keep, **kwargs):
        self.lead_times = lead_times
        super().__init__(*args, exclude=() if may_keep else ("actions",), **kwargs)

    def render_what(self, record):
        return f"Set of {record.design}" if record.design else str(record.cable_type)

    def render_length_m(self, value, record):
        if record.design:
            return ""
        return "any" if value is None else two_places(value)

    def render_price(self, value):
        return NOT_RECORDED if value is None else f"{value:,.2f}"

    def render_lead_time_days(self, value, record):
        if value is not None:
            return value
        days = self.lead_times.get(record.cable_type_id)
        return NOT_RECORDED if days is None else format_html('<span class="quiet">{}, as any length</span>', days)

    def render_supplier_number(self, value):
        return value or NOT_RECORDED
