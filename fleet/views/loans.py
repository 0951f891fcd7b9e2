"""A loan comes back."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.loans import LoanBackForm
from ..parsing.counts import counted
from ..selectors.loans import planned_counts
from ..selectors.usage import get_event_or_404
from ..services.loans import take_back_loan
from .events import confirmed_already
from .next_page import next_page
from .pages import form_page, submit
from .permissions import may_keep


@may_keep
def loan_back(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = LoanBackForm(request.POST or None, event=event, counts=planned_counts(event, on), on=on)
    act = partial(take_back_loan, event, by=request.user, on=on)
    back = submit(request, form, act, row=event)
    if back is not None:
        messages.success(request, _said(event, back))
        return redirect(next_page(request, event))
    return form_page(request, "fleet/loan_back.html", form, event=event, next=next_page(request, event))


def _said(event, back):
    return f"{event.name}: {counted(back, 'mat')} back." if back else confirmed_already(event)
