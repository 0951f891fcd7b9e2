"""What the policy does, in sentences: `{% load policy_text %}`, then `{{ preview|in_short }}`."""

from django import template

from .figures import counted

register = template.Library()


@register.filter
def in_short(preview):
    """How many cables are due now and would be then, of a Preview."""
    cables = counted(preview.total, "cable")
    if preview.due_now == preview.due_then:
        return f"As many cables would be due as now: {preview.due_now} of {cables}."
    return f"Of {cables}, {preview.due_now} {_are(preview.due_now)} due now and {preview.due_then} would be then."


def _are(number):
    return "is" if number == 1 else "are"
