"""`{% load joined_scripts %}{% joined_scripts "page" %}`: the scripts of every page as one file."""

from django import template
from django.conf import settings
from django.templatetags.static import static
from django.utils.html import format_html, format_html_join

from ..static_files import parts_of_script, script_name

register = template.Library()
SCRIPT = '<script src="{}" defer></script>'


@register.simple_tag
def joined_scripts(name):
    """One of SCRIPTS; with HALFPOWER_DEBUG, where nothing is collected, its parts one by one."""
    if settings.DEBUG:
        return format_html_join("\n", SCRIPT, ((static(part),) for part in parts_of_script(name)))
    return format_html(SCRIPT, static(script_name(name)))
