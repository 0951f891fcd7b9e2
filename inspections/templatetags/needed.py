"""`{% for count, day in kind.counts|beside:needed_days %}`: two lists side by side."""

from django import template

register = template.Library()


@register.filter
def beside(left, right):
    return zip(left, right, strict=True)
