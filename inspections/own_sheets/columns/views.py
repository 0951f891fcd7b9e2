"""What the columns of a keeper's own sheets mean: said once, before anything is stored."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.views.permissions import may_keep

from ...data_folder import WAITING_DAYS
from ...files.uploads import EXPIRED, discard
from ...workbooks.sheet import WorkbookRefused
from ..waiting_sheets import keep_waiting_meanings, waiting_meanings, waiting_workbook
from .forms import ColumnsForm
from .keeping_services import keep_meanings
from .kept_selectors import kept_for, known_codes
from .kept_shapes import shapes_of, to_keep
from .proposals import propose

PAGE = "inspections/own_sheets/columns.html"


@may_keep
@require_http_methods(["GET", "HEAD", "POST"])
def columns(request, file_hash):
    """The sheets with what is proposed, or was said; POST keeps it and goes on to what will be made of it."""
    try:
        workbook = waiting_workbook(file_hash)
    except WorkbookRefused as refused:
        discard(file_hash)
        messages.error(request, str(refused))
        return redirect("inspections:files")
    if workbook is None:
        messages.error(request, EXPIRED)
        return redirect("inspections:files")
    return _asked(request, file_hash, workbook)


def _asked(request, file_hash, workbook):
    known = known_codes()
    kept = kept_for(shapes_of(workbook))
    meanings = waiting_meanings(file_hash) or propose(workbook, kept, known)
    form = ColumnsForm(request.POST or None, workbook=workbook, meanings=meanings, known=known)
    is_right = form.is_bound and form.is_valid()
    if form.is_bound and form.is_turned:
        turned = ColumnsForm(workbook=workbook, meanings=form.turned(), known=known)
        return _page(request, file_hash, turned, kept, turned_sheets=form.turned_sheets)
    if is_right and (answer := _keep(request, file_hash, form)):
        return answer
    return _page(request, file_hash, form, kept, status=422 if form.is_bound else 200)


def _keep(request, file_hash, form):
    said = form.said()
    try:
        keep_waiting_meanings(file_hash, said)
        keep_meanings(to_keep(form.workbook, said), by=request.user)
    except ValidationError as error:
        form.add_error(None, error)
        return None
    return redirect("inspections:sheets-made", file_hash)


def _page(request, file_hash, form, kept, *, turned_sheets=(), status=200):
    context = {
        "form": form,
        "file_hash": file_hash,
        "workbook": form.workbook,
        "taken": sum(sheet.meaning.is_taken for sheet in form.sheets),
        "is_kept": bool(kept) and not form.is_bound and not turned_sheets,
        "turned_sheets": turned_sheets,
        "waiting_days": WAITING_DAYS,
    }
    return render(request, PAGE, context, status=status)
