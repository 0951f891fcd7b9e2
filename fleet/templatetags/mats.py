"""Mats as sentences name them: `{% load mats %}{{ number|mat_name }}  {{ number|mat_at_start }}`.

Of a mat itself `{{ mat }}` says the same, and `{{ mat.at_start }}` where a sentence begins.
"""

from django import template

from ..models import mats
from ..models.trail import at_start

register = template.Library()


@register.filter
def mat_name(mat):
    """mat 6, or M-017; `mat`: the mat, or its number."""
    return mats.mat_name(str(mat))


@register.filter
def mat_at_start(mat):
    """Mat 6, or M-017."""
    return at_start(mat_name(mat))
