"""Another mat goes in place of one that is planned."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.instead import InsteadForm
from ..parsing.counts import counted
from ..selectors.instead import mats_instead, weeks_of_mat
from ..selectors.unfit import with_unfit
from ..selectors.usage import get_usage_event_or_404
from ..services.submissions import answer_given
from ..services.swaps import swap_mat
from .next_page import next_page
from .pages import form_page, submit
from .permissions import may_keep


@may_keep
def usage_instead(request, code, number):
    usage_event, on = get_usage_event_or_404(code, number), timezone.localdate()
    if done := answer_given(request.POST.get("token")):
        return redirect(done)
    weeks = weeks_of_mat(usage_event, on)
    offered = mats_instead(usage_event, weeks, on)
    form = InsteadForm(request.POST or None, offered=offered)
    address = submit(request, form, partial(_swap, request, usage_event, on), row=usage_event)
    if address:
        return redirect(address)
    with_unfit([usage_event.mat], usage_event.event.ends_on, on=on)
    context = {"usage": usage_event, "offered": offered, "weeks": weeks, "next": next_page(request, usage_event.event)}
    return form_page(request, "fleet/usage_instead.html", form, **context)


def _swap(request, usage_event, on, *, other, later, **seen):
    events = swap_mat(usage_event, other, by=request.user, on=on, later=later, **seen)
    times = f", in {counted(events, 'week')}" if later else ""
    messages.success(request, f"{other.at_start} goes instead of {usage_event.mat}{times}.")
    return next_page(request, usage_event.event)
