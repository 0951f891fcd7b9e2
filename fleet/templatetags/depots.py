"""`{% load depots %}{% several_depots as shown %}{% if shown %}…`: one depot alone stays out of sight."""

from django import template

from ..selectors.mats import several_depots as ask

register = template.Library()


@register.simple_tag(takes_context=True)
def several_depots(context):
    """Asked once a page, however often the page wants to know."""
    request = context.get("request")
    if request is None:
        return ask()
    if not hasattr(request, "several_depots"):
        request.several_depots = ask()
    return request.several_depots
