"""Records of mats: make one, look at it, print it, withdraw it."""

from datetime import timedelta
from functools import partial

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.forms.record_forms import ReasonForm
from fleet.selectors.mats import get_mat_or_404
from fleet.views.pages import form_page, list_page, submit
from fleet.views.permissions import may_bench, may_keep

from ..assessment.services import ensure_assessed
from .contents import content_of, read_told
from .forms import RecordForm
from .printing import record_context, record_foot
from .selectors import all_records, get_record_or_404, last_record_of
from .services import make_record, withdraw_record
from .tables import RecordTable

# a first record tells of the last year, unless somebody says otherwise
A_YEAR = timedelta(days=365)


def record_list(request):
    return list_page(request, "inspections/records/list.html", RecordTable(all_records()))


def record(request, number):
    return render(request, "inspections/records/record.html", record_context(get_record_or_404(number)))


def foot(request, number):
    """The style sheet beside a record, which names it."""
    return HttpResponse(record_foot(get_record_or_404(number)), content_type="text/css")


@may_bench
def make(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    ensure_assessed(on)
    last = last_record_of(mat, on)
    since = last and last.until_on + timedelta(days=1)
    initial = {"from_on": min(since, on) if since else on - A_YEAR, "made_for": last.made_for if last else mat.owner}
    form = RecordForm(request.POST or None, initial=initial)
    address = submit(request, form, partial(_make, request, mat, on))
    if address:
        return redirect(address)
    return form_page(request, "inspections/records/make.html", form, mat=mat, last=last)


def _make(request, mat, on, *, from_on, made_for):
    content = content_of(read_told(mat, from_on, on))
    made = make_record(mat, content, by=request.user, on=on, from_on=from_on, made_for=made_for)
    messages.success(request, f"{made} is made. Print it, or find it again on the page of {mat}.")
    return made.get_absolute_url()


@may_keep
def withdraw(request, number):
    kept, on = get_record_or_404(number), timezone.localdate()
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(withdraw_record, kept, by=request.user, on=on), row=kept) is not None:
        messages.success(request, f"{kept} is withdrawn.")
        return redirect(kept)
    return form_page(request, "inspections/records/withdraw.html", form, record=kept)
