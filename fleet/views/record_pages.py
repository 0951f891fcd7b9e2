"""The three pages that everything in the register has: add, correct, withdraw or take back into use."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.record_forms import ReasonForm, WithdrawForm
from ..services.register import return_to_use
from .pages import form_page, submit


def add_page(request, form, act, *, title, parent, lead="", redirect_to=None):
    row = submit(request, form, act)
    if row is not None:
        messages.success(request, f"{row.at_start} is added.")
        return redirect(redirect_to(row) if redirect_to else row)
    return form_page(request, "fleet/add.html", form, title=title, parent=parent, lead=lead)


def correct_page(request, row, form, act, *, parent, trail, return_url=None, lead="", **more):
    """`more`: what the page of this kind of row shows besides."""
    if submit(request, form, act, row=row) is not None:
        messages.success(request, f"{row.at_start} is corrected.")
        return redirect(return_url or row)
    context = {"name": str(row), "parent": parent, "trail": trail(row), "lead": lead, **more}
    return form_page(request, "fleet/correct.html", form, return_url=return_url or row.get_absolute_url(), **context)


def withdraw_page(request, row, act, *, parent, lead, return_url=None):
    """Withdraw a row, or take it back into use when it is withdrawn."""
    on, return_url = timezone.localdate(), return_url or row.get_absolute_url()
    returns = asked_act(request, "return" if row.withdrawn_on else "withdraw") == "return"
    if returns:
        form, act = ReasonForm(request.POST or None), return_to_use
    else:
        form = WithdrawForm(request.POST or None, initial={"withdrawn_on": on})
    if submit(request, form, partial(act, row, by=request.user, on=on), row=row) is not None:
        messages.success(request, f"{row.at_start} is {'in use again' if returns else 'withdrawn'}.")
        return redirect(return_url)
    context = {"row": row, "returns": returns, "parent": parent, "lead": lead, "return_url": return_url}
    return form_page(request, "fleet/withdraw.html", form, **context)


def asked_act(request, possible):
    """The act that the page offered which was sent, whatever is possible now; of a page that is opened: `possible`."""
    return request.POST.get("act", possible)
