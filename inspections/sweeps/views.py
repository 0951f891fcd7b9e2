"""Pages of sweeps: drop files, say which cables they are of, look at what is kept."""

from functools import partial

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, list_page, submit
from fleet.views.permissions import may_bench

from ..assessment.policy_in_force import current_policy
from ..bench.session import remembered
from ..numeric.sweeps.lines import MOST_BYTES
from ..numeric.words import Method
from ..received_views import received, refusing_on
from ..sweep_files import SweepFileLost, kept_sweep_file
from ..templatetags.figures import counted
from ..validators import TooLarge
from .curve_services import curves_of
from .forms import DropForm, MappingForm
from .selectors import all_sweeps, cables_offered, earlier_sweeps, get_sweep_or_404
from .services import keep_sweeps
from .sweep_chart import sweep_chart, sweep_rows
from .tables import SweepTable
from .waiting_services import MOST_FILES, discard_when_kept, is_drop, new_drop, wait_for_cable, waiting_files

TOO_MANY = f"At most {MOST_FILES} files go together. Send them in two lots."


class SweepsTooLarge(TooLarge):
    sentence = "These files are larger than {limit_mb:g} MB together, so nothing was read. Send them in two lots."


# beside the files: the rest of a form
REFUSALS = {"too_many": TOO_MANY, "too_large": SweepsTooLarge, "beside_bytes": 2**20}


@require_safe
def list_sweeps(request):
    return list_page(request, "inspections/sweeps/list.html", SweepTable(all_sweeps()))


@csrf_exempt
@may_bench
@require_http_methods(["GET", "HEAD", "POST"])
def drop(request):
    if request.method != "POST":
        return _drop_page(request, DropForm())
    return received(request, _take, refusing_on(request, "inspections:sweep-drop"), **REFUSALS)


def _drop_page(request, form, status=200):
    limits = {"most": MOST_FILES, "largest": MOST_BYTES, "together": settings.UPLOAD_LIMIT_BYTES}
    return render(request, "inspections/sweeps/drop.html", {"form": form, "drop": new_drop(), **limits}, status=status)


def _take(request):
    form, name = DropForm(request.POST, request.FILES), request.POST.get("drop", "")
    name = name if is_drop(name) else new_drop()
    if form.is_valid():
        try:
            for file in form.cleaned_data["files"]:
                wait_for_cable(file, name, by=request.user)
        except ValidationError as error:
            form.add_error("files", error)
        else:
            return redirect("inspections:sweep-map", name)
    return _drop_page(request, form, status=422)


@csrf_exempt
@may_bench
@require_POST
def drop_one(request, drop):
    """One file of a drop, for the script that sends them one by one: says whether it was read."""
    return received(request, partial(_take_one, drop=drop), _said, **REFUSALS)


def _said(sentence, status):
    return JsonResponse({"read": False, "waits": False, "sentence": sentence}, status=status)


def _take_one(request, drop):
    form = DropForm(request.POST, request.FILES)
    if not is_drop(drop) or not form.is_valid():
        return _said("No file came.", 422)
    try:
        for file in form.cleaned_data["files"]:
            waiting = wait_for_cable(file, drop, by=request.user)
    except ValidationError as error:
        return _said(" ".join(error.messages), 422)
    return JsonResponse({"read": waiting.look is not None, "waits": True, "sentence": waiting.refusal})


@may_bench
def map_files(request, drop):
    on, token = timezone.localdate(), request.POST.get("token", "")
    if request.method == "POST" and (answer := answer_given(token)):
        return redirect(answer)
    waiting = waiting_files(drop, by=request.user) if is_drop(drop) else []
    if not waiting:
        messages.info(request, "No files wait here. They were kept, or waited too long. Drop them again.")
        return redirect("inspections:sweep-drop")
    read, refused = [each for each in waiting if each.look], [each for each in waiting if not each.look]
    form = _mapping_form(request, drop, read, on) if read else None
    address = submit(request, form, partial(_keep, request, drop, on)) if form else None
    if address:
        return redirect(address)
    context = {"refused": refused, "read": read, "offered": cables_offered(on), "drop": drop}
    if form is None:
        return render(request, "inspections/sweeps/map.html", context)
    return form_page(request, "inspections/sweeps/map.html", form, **context)


def _mapping_form(request, drop, read, on):
    initial = remembered(request, on, current_policy().value("reference_mhz")) | {"measured_on": on, "method": ""}
    data = request.POST if request.method == "POST" else None
    return MappingForm(data, initial=initial, waiting=read, drop=drop, by=request.user, on=on)


def _keep(request, drop, on, files, confirmed="", **head):
    kept = keep_sweeps(files, by=request.user, on=on, confirmed=confirmed, **head)
    discard_when_kept(drop, by=request.user)
    readings = sum(1 for sweep in kept.sweeps if sweep.reading_id)
    messages.success(request, f"{counted(len(kept.sweeps), 'sweep')} kept, with {counted(readings, 'reading')}.")
    if kept.there:
        names = ", ".join(sorted({str(sweep) for sweep in kept.there}))
        messages.info(request, f"Kept before, and not again: {names}.")
    for sentence in kept.said:
        messages.info(request, sentence)
    return reverse("inspections:sweep-list")


@require_safe
def sweep(request, pk):
    sweep, policy = get_sweep_or_404(pk), current_policy()
    curves, lost = curves_of([sweep, *earlier_sweeps(sweep)])
    is_loss, reference_mhz = sweep.method != Method.ON_ELEMENT, policy.value("reference_mhz")
    limit_db = policy.value("loss_limit_db") if is_loss else None
    context = {
        "sweep": sweep,
        "lost": lost,
        "is_loss": is_loss,
        "reference_mhz": reference_mhz,
        "curves": curves,
        "chart": sweep_chart(curves, limit_db=limit_db, reference_mhz=reference_mhz),
        "rows": sweep_rows(curves) if curves else [],
    }
    return render(request, "inspections/sweeps/sweep.html", context)


@require_safe
def download(request, pk):
    """The file as it came, byte for byte; a browser saves it and shows nothing of it."""
    sweep = get_sweep_or_404(pk)
    try:
        content = kept_sweep_file(sweep.sha256)
    except SweepFileLost as error:
        messages.error(request, str(error))
        return redirect(sweep)
    name = content_disposition_header(True, sweep.file_name)
    return HttpResponse(content, content_type="application/octet-stream", headers={"Content-Disposition": name})
