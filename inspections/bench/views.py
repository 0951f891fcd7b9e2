"""Pages of the bench: choose a mat, type its losses, see at once what each means."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.selectors.mats import get_mat_or_404
from fleet.views.next_page import next_page
from fleet.views.pages import form_page, list_page, searched_text, submit
from fleet.views.permissions import may_bench

from ..assessment.services import ensure_assessed
from ..templatetags.figures import counted
from .days.selectors import bench_days_of
from .forms import BenchForm
from .method_forms import with_method_proposed
from .no_bench_selectors import benches_not_said
from .sample_selectors import sample_waiting_for
from .selectors import count_left_out, instruments_in_use, mats_at_bench, specified_mat
from .services import record_readings
from .session import has_said_how, remember, remembered_of_mat
from .tables import BenchTable
from .verdicts import criteria_of_design


@may_bench
def choose_mat(request):
    on = timezone.localdate()
    ensure_assessed(on)
    text = searched_text(request)
    specified = specified_mat(text, on) if text else None
    if specified:
        return redirect("inspections:bench-mat", number=specified.number)
    table = BenchTable(mats_at_bench(on, text))
    shown = {"text": text, "on": on, "benches": benches_not_said(on), "today": bench_days_of(on)}
    shown["left_out"] = 0 if text else count_left_out(on)
    return list_page(request, "inspections/bench/mats.html", table, **shown)


@may_bench
def measure_mat(request, number):
    on = timezone.localdate()
    mat = get_mat_or_404(number)
    sample = sample_waiting_for(mat, on)
    form = _form(request, mat, on, request.POST if request.method == "POST" else None, sample)
    address = submit(request, form, partial(_save, request, mat, form, on))
    if address:
        return redirect(address)
    context = {"mat": mat, "on": on, "remembers": has_said_how(request), "sample": sample}
    return form_page(request, "inspections/bench/mat.html", form, **context)


@may_bench
@require_POST
def verdicts(request, number):
    """What the typed losses mean: of the row that was left, or of all rows when something above them changed."""
    on, row = timezone.localdate(), request.POST.get("row", "")
    data = with_method_proposed(request.POST, instruments_in_use(on))
    form = _form(request, get_mat_or_404(number), on, data)
    form.is_valid()
    form.leave_focus()
    rows = [form_row for form_row in form.form_rows if not row or _key_of(form_row) == row]
    context = {"form": form, "form_rows": rows, "head_changed": not row, "proposed": data is not request.POST}
    return render(request, "inspections/bench/_verdicts.html", context)


def _key_of(form_row):
    segment = form_row.place.segment
    return str(segment and segment.pk)


def _form(request, mat, on, data=None, sample=None):
    criteria = criteria_of_design(mat.design_id)
    initial = remembered_of_mat(request, on, criteria.reference_mhz, sample)
    return BenchForm.for_mat(mat, data, criteria=criteria, on=on, initial=initial)


def _save(request, mat, form, on, readings, moving, **head):
    stored = record_readings(mat, readings, by=request.user, on=on, moving=moving, **head)
    remember(request, form.head(), on)
    messages.success(request, f"{mat.at_start}: {counted(len(stored), 'reading')} saved. {form.summary}")
    if moving:
        places = ", ".join(f"{each.position}" for each in moving)
        messages.info(request, f"It moves when flexed: a fault is open at position {places}. Change that cable.")
    return next_page(request, reverse("inspections:bench"))
