"""Mats come home from an event."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.whereabouts import HomeForm
from ..parsing.counts import counted
from ..selectors.usage import get_event_or_404
from ..selectors.whereabouts import awaited_at
from ..services.whereabouts import say_home
from .next_page import next_page
from .pages import form_page, submit
from .permissions import may_log


@may_log
def event_home(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = HomeForm(request.POST or None, rows=awaited_at(event, on), on=on)
    address = submit(request, form, partial(_say_home, request, event, on), row=event)
    if address:
        return redirect(address)
    return form_page(request, "fleet/event_home.html", form, event=event, next=next_page(request, event))


def _say_home(request, event, on, **values):
    home = say_home(event, by=request.user, on=on, **values)
    said = f"came home: {counted(len(home), 'mat')}" if home else "its mats came home before"
    messages.success(request, f"{event.name}: {said}.")
    return next_page(request, event)
