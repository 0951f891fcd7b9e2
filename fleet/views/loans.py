"""A loan comes back."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone

from ..forms.loans import LoanBackForm
from ..selectors.loans import planned_counts
from ..selectors.usage import get_event_or_404
from ..services.loans import take_back_loan
from ..services.mat_days import SharedDays
from .next_page import next_page
from .permissions import may_log


@may_log
def loan_back(request, code):
    event, on = get_event_or_404(code), timezone.localdate()
    form = LoanBackForm(request.POST or None, event=event, counts=planned_counts(event), on=on)
    context = {"form": form, "event": event, "next": next_page(request, event)}
    if form.is_valid():
        told = {name: form.cleaned_data[name] for name in ("basis", "back_on")}
        told |= {"by": request.user, "on": on, "confirmed": request.POST.get("confirmed", "")}
        try:
            back = take_back_loan(event, form.counts, **told)
            messages.success(request, _said(event, back))
            return redirect(context["next"])
        except ValidationError as refused:
            form.add_error(None, refused)
            context["shared"] = refused if isinstance(refused, SharedDays) else None
    return render(request, "fleet/loan_back.html", context, status=422 if form.is_bound else 200)


def _said(event, back):
    return (
        f"{event.name}: {back} mat{'' if back == 1 else 's'} back." if back else f"{event.name} was already answered."
    )
