"""Loose cables judged in minutes: the list, start, one value after the other, strike, end, print."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.access import MAY_BENCH, name_of
from fleet.forms.record_forms import ReasonForm, values_of
from fleet.parsing.whole_numbers import read_whole
from fleet.selectors.trail import trail_of
from fleet.views.pages import form_page, in_pages, link_to, submit
from fleet.views.permissions import may_bench
from fleet.views.record_pages import correct_page

from ..bench.selectors import instruments_in_use
from .forms import BatchCorrectionForm, EndBatchForm, StartBatchForm, ValueForm, typed_again
from .selectors import (
    batch_page,
    batches_listed,
    counted_there,
    get_batch_or_404,
    get_value_or_404,
    lots_of,
    offered,
    pages_of,
)
from .services import correct_batch, end_batch, enter_value, start_batch, strike_value
from .tables import BatchTable, CableTable, LotTable


def batch_list(request):
    pages = pages_of(batches_listed(), timezone.localdate())
    context = {"table": in_pages(request, BatchTable(pages)), "lots": LotTable(lots_of(pages))}
    return render(request, "inspections/batches/list.html", context)


@may_bench
def start(request):
    on = timezone.localdate()
    initial = {"measured_on": on, "measured_by": name_of(request.user)}
    form = StartBatchForm(request.POST or None, offered=_offered(on), on=on, initial=initial)
    address = submit(request, form, lambda **said: start_batch(by=request.user, on=on, **said).get_absolute_url())
    if address:
        return redirect(address)
    return form_page(request, "inspections/batches/start.html", form)


def detail(request, number):
    """The page of a batch; asked with `again`, the field waits for that cable."""
    batch, on = get_batch_or_404(number), timezone.localdate()
    page = batch_page(batch, on)
    cable = page.cable(read_whole(request.GET.get("again", "")))
    initial = {"loss": typed_again(cable) if cable else "", "number_on": bool(request.GET.get("number_on"))}
    form = ValueForm(batch=batch, initial=initial)
    return render(request, "inspections/batches/batch.html", _shown(request, page, form, on))


@may_bench
@require_POST
def read(request, number):
    """One value, kept at once. With the page's script its answer alone comes back, else the whole page."""
    batch, on = get_batch_or_404(number), timezone.localdate()
    form = ValueForm(request.POST, batch=batch)
    address = submit(request, form, partial(_keep, request, batch))
    context = _shown(request, batch_page(batch, on), form, on)
    template = "_answer.html" if request.htmx else "batch.html"
    if address is None:
        return render(request, f"inspections/batches/{template}", context, status=422)
    return render(request, f"inspections/batches/{template}", context) if request.htmx else redirect(address)


def _keep(request, batch, loss, cable, serial, number_on):
    enter_value(batch, loss, by=request.user, cable=cable, serial=serial, number_on=number_on)
    return batch.get_absolute_url() + ("?number_on=1" if number_on else "")


@may_bench
def strike(request, number, pk):
    value, on = get_value_or_404(number, pk), timezone.localdate()
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(strike_value, value, by=request.user, on=on), row=value) is not None:
        messages.success(request, f"{value.said} of cable {value.cable} is struck.")
        return redirect(value.batch)
    return form_page(request, "inspections/batches/strike.html", form, value=value, batch=value.batch)


@may_bench
def correct(request, number):
    batch, on = get_batch_or_404(number), timezone.localdate()
    # it was begun, so its leads were
    leads_out = bool(batch.instrument and batch.instrument.leads_taken_out)
    initial = values_of(batch, BatchCorrectionForm) | {"leads_out": leads_out}
    form = BatchCorrectionForm(request.POST or None, offered=_offered(on), on=on, initial=initial)
    parent, act = link_to("inspections:batch-list", "Batches"), partial(correct_batch, batch, by=request.user, on=on)
    lead = "All its cables are judged anew by what you write here."
    return correct_page(request, batch, form, act, parent=parent, trail=trail_of, lead=lead)


@may_bench
def end(request, number):
    batch, on = get_batch_or_404(number), timezone.localdate()
    there = counted_there(batch)
    form = EndBatchForm(request.POST or None, counted_there=there, initial={"counted": bool(there)})
    segments = submit(request, form, partial(end_batch, batch, by=request.user, on=on), row=batch)
    if segments is not None:
        shelf = f" {len(segments)} of its cables are on the shelf now." if segments else ""
        messages.success(request, f"{batch} is ended.{shelf}")
        return redirect(batch)
    return form_page(
        request, "inspections/batches/end.html", form, batch=batch, page=batch_page(batch, on), there=there
    )


def sheet(request, number):
    page = batch_page(get_batch_or_404(number), timezone.localdate())
    context = {"batch": page.batch, "page": page, "table": CableTable(page, may_bench=False, on_paper=True)}
    return render(request, "inspections/batches/sheet.html", context)


def _shown(request, page, form, on):
    may = request.user.has_perm(MAY_BENCH)
    return {
        "batch": page.batch,
        "page": page,
        "form": form,
        "on": on,
        "table": CableTable(page, may_bench=may),
        "is_open": may and page.batch.ended_on is None,
        "trail": trail_of(page.batch),
    }


def _offered(on):
    return offered(on) | {"instrument": instruments_in_use(on)}
