"""How often a mat really went, month by month, and how often it usually goes."""

import re
from datetime import date
from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from ..forms.use_of_months import MonthsForm, UsualUseForm
from ..months import first_of_month, months_after
from ..parsing.counts import counted
from ..selectors.mats import get_mat_or_404
from ..selectors.use_of_months import MONTHS_SHOWN
from ..selectors.usual_use import usual_times_a_year
from ..services.use_of_months import say_months
from ..services.usual_use import say_usual_use
from .pages import form_page, submit
from .permissions import may_keep

EARLIEST = date(1950, 1, 1)


@may_keep
def mat_months(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    last = _month_asked(request, on)
    form = MonthsForm(request.POST or None, mat=mat, on=on, last=last)
    act = partial(_say, request, mat, on, last)
    if address := submit(request, form, act, row=mat):
        return redirect(address)
    earlier, later = months_after(last, -MONTHS_SHOWN), months_after(last, MONTHS_SHOWN)
    context = {
        "mat": mat,
        "this_month": first_of_month(on),
        "earlier": earlier if earlier >= EARLIEST else None,
        "later": min(later, first_of_month(on)) if last < first_of_month(on) else None,
    }
    return form_page(request, "fleet/mat_months.html", form, **context)


def _month_asked(request, on):
    """The last month to show: the one in the address, where it is one and has begun; else this month."""
    asked = re.fullmatch(r"([0-9]{4})-(0[1-9]|1[0-2])", request.GET.get("last", ""))
    last = date(int(asked[1]), int(asked[2]), 1) if asked and int(asked[1]) else on
    return first_of_month(min(max(last, EARLIEST), on))


def _say(request, mat, on, last, *, in_all, seen_version, confirmed):
    said = {"last": last, "seen_version": seen_version, "confirmed": confirmed}
    changed = say_months(mat, in_all, by=request.user, on=on, **said)
    messages.success(request, f"How often {mat} went: {counted(changed or 'no', 'month')} changed.")
    return f"{reverse('fleet:mat-months', args=[mat.number])}?last={last:%Y-%m}"


@may_keep
def usual_use(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    form = UsualUseForm(request.POST or None, initial={"times_a_year": usual_times_a_year(mat, on)})
    if submit(request, form, partial(say_usual_use, mat, by=request.user, on=on), row=mat) is not None:
        messages.success(request, f"Usual use of {mat}: {form.cleaned_data['times_a_year']} a year.")
        return redirect(mat)
    return form_page(request, "fleet/usual_use.html", form, mat=mat)
