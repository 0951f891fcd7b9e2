"""Lengths with whether somebody measured them: `{% load lengths %}{{ segment|length_in_m }}`, or of a position."""

from django import template
from django.utils.html import format_html

from ..figures import two_places

register = template.Library()


@register.filter
def length_in_m(row):
    """1.50 m, or 1.50 m (estimated)."""
    return in_m(row.length_m, row.length_is_estimated)


@register.filter
def metres(length_m):
    return f"{two_places(length_m)} m"


def in_m(length_m, estimated):
    return f"{metres(length_m)}{' (estimated)' if estimated else ''}"


def length_cell(figure, estimated):
    """A figure under a heading with the unit; on the phone `length_unit` says it behind the unit."""
    return format_html('{} <span class="second-line at-desk">estimated</span>', figure) if estimated else figure


def length_unit(estimated):
    return "m, estimated" if estimated else "m"


@register.filter
def length_in_cell(row):
    return length_cell(two_places(row.length_m), row.length_is_estimated)
