"""The sheet of a work order where it is one of several: `{% load order_sheet %}{% order_sheet context %}`."""

from django import template

register = template.Library()


@register.inclusion_tag("inspections/workshop/_sheet.html")
def order_sheet(context):
    """`context`: of `workshop.printing.sheet_context`."""
    return context
