"""Pages of the bench: choose a mat, type its losses, see at once what each means."""

from functools import partial

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from fleet.selectors.mats import get_mat_or_404
from fleet.services.submissions import act_once
from fleet.views.permissions import may_log

from ..assessment.services import ensure_assessed
from .forms import BenchForm, day_typed, segments_typed
from .selectors import bench_rows, instruments_in_use, mat_meant, mats_at_bench
from .services import record_readings
from .session import remember, remembered
from .tables import BenchTable
from .verdicts import stick_of_design


@may_log
def choose_mat(request):
    on = timezone.localdate()
    ensure_assessed(on)
    text = request.GET.get("q", "").strip()
    meant = mat_meant(text, on) if text else None
    if meant:
        return redirect("inspections:bench-mat", number=meant.number)
    table = BenchTable(mats_at_bench(on, text))
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return render(request, "inspections/bench/mats.html", {"table": table, "text": text, "on": on})


@may_log
def measure_mat(request, number):
    on = timezone.localdate()
    mat = get_mat_or_404(number)
    form = _form(request, mat, on)
    if form.is_bound and form.is_valid():
        try:
            keep = partial(_keep, request, mat, form, on)
            return redirect(act_once(form.cleaned_data["token"], by=request.user, act=keep))
        except ValidationError as refusal:
            form.add_error(None, refusal)
    context = {"mat": mat, "form": form, "on": on, "remembers": "bench" in request.session}
    return render(request, "inspections/bench/mat.html", context, status=422 if form.is_bound else 200)


@may_log
@require_POST
def verdicts(request, number):
    """What the typed losses mean: of the row that was left, or of all rows when something above them changed."""
    form = _form(request, get_mat_or_404(number), timezone.localdate())
    form.is_valid()
    row = request.POST.get("row", "")
    lines = [line for line in form.lines if not row or str(line.row.segment and line.row.segment.pk) == row]
    return render(request, "inspections/bench/_verdicts.html", {"form": form, "lines": lines})


def _form(request, mat, on):
    data = request.POST if request.method == "POST" else None
    stick = stick_of_design(mat.design_id)
    initial = remembered(request, on, stick.reference_mhz)
    day = day_typed(data, on) if data else initial["measured_on"]
    rows = bench_rows(mat, day, stick, segments_typed(data) if data else ())
    return BenchForm(data, rows=rows, stick=stick, instruments=instruments_in_use(on), on=on, initial=initial)


def _keep(request, mat, form, on):
    readings = record_readings(mat, form.typed_readings(), by=request.user, on=on, **form.head())
    remember(request, form.head(), on)
    messages.success(request, f"{mat}: {len(readings)} reading{'' if len(readings) == 1 else 's'} kept. {form.summary}")
    return reverse("inspections:bench")
