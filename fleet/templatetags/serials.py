"""Serials with whether they stand on the cable: `{% load serials %}{{ segment|serial_in_words }}`."""

from django import template
from django.utils.html import format_html

register = template.Library()
OUR_NUMBER = "our number"


@register.simple_tag
def our_number():
    return OUR_NUMBER


@register.filter
def serial_in_words(segment):
    """C-00073, or C-00073 (our number)."""
    return f"{segment.serial} ({OUR_NUMBER})" if segment.serial_is_ours else segment.serial


@register.filter
def serial_in_cell(segment):
    """The same in a cell of a table: the mark below the serial."""
    if segment.serial_is_ours:
        return format_html('{} <span class="second-line">{}</span>', segment.serial, OUR_NUMBER)
    return segment.serial
