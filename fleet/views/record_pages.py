"""The three pages that everything in the register has: add, correct, withdraw or take back into use."""

from functools import partial

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django_tables2 import RequestConfig

from ..forms.record_forms import ReasonForm, WithdrawForm, add_refusal
from ..services.register import return_to_use

PER_PAGE = 50


def kept(form, act, row=None):
    """What `act(**values)` returned; None when the form is not sent, not right, or refused: then it says why.

    When somebody else changed `row` meanwhile, what was typed stays and can be sent again knowingly.
    """
    if not form.is_bound or not form.is_valid():
        return None
    values = dict(form.cleaned_data)
    if "version" in values:
        values["seen_version"] = values.pop("version")
    try:
        return act(**values)
    except ValidationError as refused:
        add_refusal(form, refused)
        if row is not None:
            row.refresh_from_db()
            _renew_version(form, row)
        return None


def form_page(request, template, form, **context):
    """The page of a form: 422 when it was sent and could not be kept, with all that was typed."""
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound else 200)


def add_page(request, form, act, *, title, up, lead="", to=None):
    row = kept(form, act)
    if row is not None:
        messages.success(request, f"{row} is added.")
        return redirect(to(row) if to else row)
    return form_page(request, "fleet/add.html", form, title=title, up=up, lead=lead)


def correct_page(request, row, form, act, *, up, trail, back=None, lead=""):
    if kept(form, act, row) is not None:
        messages.success(request, f"{row} is corrected.")
        return redirect(back or row)
    context = {"name": str(row), "up": up, "trail": trail(row), "back": back or row.get_absolute_url(), "lead": lead}
    return form_page(request, "fleet/correct.html", form, **context)


def withdraw_page(request, row, act, *, up, lead, back=None):
    """Withdraw a row, or take it back into use when it is withdrawn."""
    on, back = timezone.localdate(), back or row.get_absolute_url()
    if row.withdrawn_on:
        form = ReasonForm(request.POST or None, initial={"version": row.version})
        act = return_to_use
    else:
        form = WithdrawForm(request.POST or None, initial={"version": row.version, "withdrawn_on": on})
    if kept(form, partial(act, row, by=request.user, on=on), row) is not None:
        messages.success(request, f"{row} is {'withdrawn' if row.withdrawn_on else 'in use again'}.")
        return redirect(back)
    return form_page(request, "fleet/withdraw.html", form, row=row, up=up, lead=lead, back=back)


def list_page(request, template, table, form, **context):
    RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
    return render(request, template, {"table": table, "form": form, **context})


def up_to(name, label):
    return {"url": reverse(name), "label": label}


def _renew_version(form, row):
    """After a refusal for somebody else's change the form carries the version that the page now shows below it."""
    if any(error.code == "stale" for error in form.non_field_errors().as_data()):
        form.data = form.data.copy()
        form.data["version"] = row.version
