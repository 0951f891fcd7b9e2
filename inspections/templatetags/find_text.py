"""What was found, in words: `{% load find_text %}{{ found.kinds|kinds_found }}`."""

from django import template

from .figures import counted

register = template.Library()


@register.filter
def kinds_found(kinds):
    """`48 mats and 2 notes`; kinds without a hit are left out."""
    said = [counted(hits.total, kind) for kind, hits in kinds.items() if hits.total]
    return " and ".join(filter(None, [", ".join(said[:-1]), said[-1]]))
