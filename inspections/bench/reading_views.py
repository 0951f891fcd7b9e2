"""Make a reading void or doubtful, each with a reason."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from fleet.forms.record_forms import ReasonForm
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_bench
from fleet.views.record_pages import asked_act

from .reading_selectors import get_reading_or_404
from .services import clear_doubt, mark_doubtful, void_reading


@may_bench
def void(request, pk):
    return _act(request, get_reading_or_404(pk), "void", void_reading, "The reading is void.")


@may_bench
def doubtful(request, pk):
    reading = get_reading_or_404(pk)
    if asked_act(request, "clear" if reading.doubt_reason else "doubt") == "clear":
        return _act(request, reading, "clear", clear_doubt, "The reading is no longer doubtful.")
    return _act(request, reading, "doubt", mark_doubtful, "The reading is marked doubtful.")


def _act(request, reading, act, service, said):
    form = ReasonForm(request.POST or None)
    service = partial(service, reading, by=request.user, on=timezone.localdate())
    if submit(request, form, service, row=reading) is not None:
        messages.success(request, said)
        return redirect(reading.segment)
    return form_page(request, "inspections/bench/reading_act.html", form, reading=reading, act=act)
