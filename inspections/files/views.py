"""Files in and out: send, look at what they hold, confirm; and the pool as one zip."""

from functools import partial

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from fleet.forms.record_forms import ask
from fleet.forms.submissions import OnceForm
from fleet.intake import UnusualRows, counts, named
from fleet.selectors.loads import get_load_or_404, recent_loads
from fleet.services.submissions import act_once, answer_given
from fleet.views.permissions import may_keep

from ..data_folder import WAITING_DAYS
from ..deleting.load_selectors import brought, corrected
from ..received_views import received, refusing_on
from ..validators import TooLarge
from ..workbooks.sheet import WorkbookRefused
from .differing_columns import (
    REFUSED,
    differing_columns,
    keep_answers,
    mark_of_differences,
    waiting_differing,
)
from .forms import UploadForm
from .loading import check_pool_files, load_pool_files
from .pool_workbooks import template_workbook, workbook_of_the_pool
from .saving import export_zip
from .sets import FILE_NAMES, LAYOUTS
from .tables import CountTable, FindingTable
from .uploads import EXPIRED, discard, store_upload
from .waiting_workbooks import is_pool_workbook, waiting_contents

SHOWN = 200
TOO_MANY = "These are more files than one pool has. Send the CSV files of one pool only."
WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@csrf_exempt
@require_http_methods(["GET", "POST"])
def files_page(request):
    return _receive(request) if request.method == "POST" else _files_page(request, UploadForm())


def _files_page(request, form, status=200):
    context = {
        "form": form,
        "layouts": LAYOUTS,
        "loads": recent_loads(),
        "limit_mb": settings.UPLOAD_LIMIT_BYTES / 2**20,
    }
    return render(request, "inspections/files/files.html", context, status=status)


@may_keep
def _receive(request):
    return received(request, _take, refusing_on(request, "inspections:files"), too_many=TOO_MANY)


def _take(request):
    form = UploadForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            stored = store_upload(form.cleaned_data["files"])
            page = _page_of(stored)
        except TooLarge:
            raise
        except ValidationError as error:
            form.add_error("files", error)
        else:
            if stored.skipped:
                messages.warning(request, f"Left out, because they are not files of a pool: {named(stored.skipped)}.")
            return redirect(page, stored.file_hash)
    return _files_page(request, form, status=422)


def _page_of(stored):
    """The page that comes next; what cannot be read waits no longer, and ValidationError says why."""
    try:
        is_own = stored.is_own_sheets and not is_pool_workbook(stored.file_hash)
    except (WorkbookRefused, ValidationError) as error:
        discard(stored.file_hash)
        raise ValidationError(error.messages if isinstance(error, ValidationError) else str(error)) from error
    return "inspections:sheets-columns" if is_own else "inspections:files-waiting"


@may_keep
@require_http_methods(["GET", "POST"])
def waiting(request, file_hash):
    """What the files hold, before anything is stored; POST confirms."""
    contents = waiting_contents(file_hash)
    if request.method == "POST":
        return _confirm(request, file_hash)
    if contents is None:
        return _gone(request)
    files = check_pool_files(contents, on=timezone.localdate(), differing=waiting_differing(file_hash))
    found = (files.errors, files.unusual, files.warnings)
    errors, unusual, warnings = (each.in_order(FILE_NAMES)[:SHOWN] for each in found)
    form = OnceForm()
    if unusual:
        ask(form, UnusualRows(files), "")
    context = {
        "file_hash": file_hash,
        "files": files,
        "counts": CountTable(counts(files), "New"),
        **_numbers(files),
        "differing": differing_columns(files),
        "choices": REFUSED,
        "seen": mark_of_differences(files),
        "errors": errors,
        "has_other_headings": any(error.line == 1 for error in errors),
        "error_table": FindingTable(errors, attrs={"aria-label": "Errors"}),
        "unusual": unusual,
        "unusual_table": FindingTable(unusual, attrs={"aria-label": "Unusual values"}),
        "warnings": warnings,
        "warning_table": FindingTable(warnings, attrs={"aria-label": "Worth a look"}),
        "form": form,
        "waiting_days": WAITING_DAYS,
    }
    return render(request, "inspections/files/waiting.html", context)


def _numbers(files):
    counted = counts(files).values()
    new = sum(count["stored"] for count in counted)
    corrected = sum(count.get("corrected", 0) for count in counted)
    return {"new": new, "corrected": corrected, "can_be_stored": not files.errors and bool(new or corrected)}


def _gone(request):
    messages.error(request, EXPIRED)
    return redirect("inspections:files")


def _confirm(request, file_hash):
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    form = OnceForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Nothing is stored yet. Check the files below and confirm again.")
        return redirect("inspections:files-waiting", file_hash)
    try:
        if keep_answers(file_hash, request.POST) or "choose" in request.POST:
            return redirect("inspections:files-waiting", file_hash)
        said = {"confirmed": request.POST.get("confirmed", ""), "seen": request.POST.get("seen", "")}
        load = partial(_load, file_hash, **said)
        load = partial(load, by=request.user, on=timezone.localdate())
        answer_url = act_once(form.cleaned_data["token"], by=request.user, act=load)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("inspections:files-waiting", file_hash)
    discard(file_hash)
    return redirect(answer_url)


def _load(file_hash, *, by, on, confirmed, seen):
    contents = waiting_contents(file_hash)
    if contents is None:
        raise ValidationError(EXPIRED)
    differing = waiting_differing(file_hash)
    with transaction.atomic():
        files, load = load_pool_files(contents, by=by, on=on, confirmed=confirmed, differing=differing)
        if files.differences and mark_of_differences(files) != seen:
            raise ValidationError("Somebody changed what is stored since you looked. Look at the differences again.")
    return reverse("inspections:load-detail", args=[load.pk]) if load else reverse("inspections:files")


@may_keep
@require_POST
def leave(request, file_hash):
    discard(file_hash)
    messages.success(request, "The files are discarded. Nothing was stored.")
    return redirect("inspections:files")


@require_GET
def load_detail(request, pk):
    load = get_load_or_404(pk)
    said = {"brought": brought(load), "corrected": corrected(load), "sources": load.sources}
    context = {"load": load, "counts": CountTable(load.files, "Stored")} | said
    return render(request, "inspections/files/load.html", context)


@may_keep
@require_GET
def export(request):
    return FileResponse(export_zip(), as_attachment=True, filename=f"pool-{timezone.localdate():%Y-%m-%d}.zip")


@may_keep
@require_GET
def export_workbook(request):
    try:
        return _workbook(workbook_of_the_pool(), f"pool-{timezone.localdate():%Y-%m-%d}.xlsx")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("inspections:files")


@may_keep
@require_GET
def template(request):
    return _workbook(template_workbook(), "empty-pool.xlsx")


def _workbook(stream, name):
    return FileResponse(stream, as_attachment=True, filename=name, content_type=WORKBOOK_TYPE)
