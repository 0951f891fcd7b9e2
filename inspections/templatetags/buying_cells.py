"""Cells of the tables of what to buy."""

from urllib.parse import quote

from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import mark_safe

from ..templatetags.figures import short_day

NOW = mark_safe("<b>now</b>")
NO_LEAD_TIME = mark_safe('<span class="quiet">no lead time</span>')
NO_PRICE = mark_safe('<span class="quiet">no price</span>')


def second(value, below):
    """A figure, and under it a quiet second line where there is something to say; on the phone a point lies between."""
    if not below:
        return value
    return format_html('{} <span class="second-line"><span class="at-phone">· </span>{}</span>', value, below)


def cable_cell(plan):
    """The cable type with its connectors, and what the supplier calls it."""
    link = format_html('<a href="{}">{}</a>', plan.cable_type.get_absolute_url(), plan.cable_type)
    gone = "withdrawn: choose another type" if plan.cable_type.withdrawn_on else ""
    said = [gone, plan.cable_type.connectors, plan.offer.supplier_number and f"no. {plan.offer.supplier_number}"]
    return second(link, format_html_join(" · ", "{}", ((text,) for text in said if text)))


def order_cell(plan, first_order, on):
    """The last day to order the first, and how many by then; *now* where it has passed."""
    if plan.buy_by is None:
        return NO_LEAD_TIME
    some = f"{first_order} of {len(plan.days)}" if first_order < len(plan.days) else ""
    if plan.buy_by > on:
        return second(short_day(plan.buy_by), some)
    was = f"was {short_day(plan.buy_by)}" if plan.buy_by < on else ""
    return second(NOW, "; ".join(filter(None, [some, was])))


def price_cell(plan, *, may_keep):
    """The price of one, else where a keeper writes it."""
    if plan.offer.price is not None:
        return f"{plan.offer.price:,.2f}"
    if not may_keep:
        return NO_PRICE
    name, length_m = plan.kind
    query = f"cable_type={quote(name)}&length_m={length_m:.12g}&next={reverse('inspections:buy')}"
    return format_html('<a href="{}?{}">add a price</a>', reverse("fleet:price-add"), query)
