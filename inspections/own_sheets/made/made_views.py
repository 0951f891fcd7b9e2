"""What will be made of a keeper's own sheets: looked at, mended, chosen, and then stored as one load."""

from functools import partial

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.forms.record_forms import ask
from fleet.intake import UnusualRows
from fleet.services.submissions import act_once, answer_given
from fleet.views.permissions import may_keep

from ...data_folder import WAITING_DAYS
from ...files.differing_columns import CHOICES
from ...files.uploads import EXPIRED, discard
from ...workbooks.sheet import WorkbookRefused
from ..reading.assumed_text import rough_day_in_words, sentence
from ..waiting_sheets import waiting_meanings, waiting_workbook
from .made import make, store_made
from .made_forms import MadeForm
from .made_rows import MOST_CELLS, MadeRows
from .mending import keep_said

PAGE = "inspections/own_sheets/made.html"
READ_AGAIN = "Read again with what you said. Look at it, then store it."
NOTHING_NEW = "Nothing new: the pool has all of it already, and nothing is changed."


@may_keep
@require_http_methods(["GET", "HEAD", "POST"])
def made(request, file_hash):
    """What will be made; POST keeps what was mended and chosen, and stores what was shown unless that changes it."""
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    try:
        workbook = waiting_workbook(file_hash)
    except WorkbookRefused as refused:
        messages.error(request, str(refused))
        return redirect("inspections:files")
    if workbook is None:
        messages.error(request, EXPIRED)
        return redirect("inspections:files")
    if waiting_meanings(file_hash) is None:
        return redirect("inspections:sheets-columns", file_hash)
    return _keep(request, file_hash, workbook) if request.method == "POST" else _page(request, file_hash)


def _page(request, file_hash):
    found = make(file_hash, on=timezone.localdate())
    form = MadeForm(initial={"seen": found.mark})
    if found.files.unusual:
        ask(form, UnusualRows(found.files), "")
    context = {
        "made": found,
        "rows": MadeRows(found),
        "rough": [rough_day_in_words(each) for each in found.understood.rough],
        "assumed": [sentence(each) for each in found.understood.assumed],
        "choices": CHOICES,
        "most": f":{MOST_CELLS}",
        "most_cells": MOST_CELLS,
        "form": form,
        "file_hash": file_hash,
        "waiting_days": WAITING_DAYS,
    }
    return render(request, PAGE, context)


def _keep(request, file_hash, workbook):
    form = MadeForm(request.POST)
    try:
        before, now = keep_said(file_hash, partial(form.change, workbook=workbook))
        if now != before or "store" not in request.POST:
            messages.info(request, READ_AGAIN)
            return redirect("inspections:sheets-made", file_hash)
        return _store(request, file_hash, form)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("inspections:sheets-made", file_hash)


def _store(request, file_hash, form):
    if not form.is_valid():
        raise ValidationError([message for errors in form.errors.values() for message in errors])
    act = partial(_answer_url, file_hash, seen=form.cleaned_data["seen"], confirmed=request.POST.get("confirmed", ""))
    act = partial(act, by=request.user, on=timezone.localdate())
    answer_url = act_once(form.cleaned_data["token"], by=request.user, act=act)
    discard(file_hash)
    if answer_url == reverse("inspections:files"):
        messages.success(request, NOTHING_NEW)
    return redirect(answer_url)


def _answer_url(file_hash, **asked):
    load = store_made(file_hash, **asked)
    return reverse("inspections:load-detail", args=[load.pk]) if load else reverse("inspections:files")
