"""The price list."""

import django_tables2 as tables

from ..figures import two_places
from ..models import Price
from .actions import actions_column
from .sorting import sorted_by


def _number(label, name, unit="", **kwargs):
    attrs = {"cell": {"class": "num", "data-name": name, "data-unit": unit}}
    return tables.Column(label, default="not recorded", attrs=attrs, **kwargs)


class PriceTable(tables.Table):
    what = tables.Column("Cable or set", empty_values=(), attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column("Length,\u00a0m", default="any", attrs={"cell": {"class": "num at-end", "data-unit": "m"}})
    price = _number("Price", "price")
    lead_time_days = _number("Lead time,\u00a0days", "lead time", "days")
    supplier_number = tables.Column(
        default="not recorded", attrs={"cell": {"class": "bare", "data-name": "supplier’s number"}}
    )
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

    def __init__(self, *args, may_keep, **kwargs):
        super().__init__(*args, exclude=() if may_keep else ("actions",), **kwargs)

    def render_what(self, record):
        return f"Set of {record.design}" if record.design else str(record.cable_type)

    def render_length_m(self, value):
        return two_places(value)
