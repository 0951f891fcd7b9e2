"""Samples of the pool: the list, drawing one, measuring it, what it found."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.access import MAY_BENCH
from fleet.forms.record_forms import ReasonForm
from fleet.selectors.trail import trail_of
from fleet.services.register import withdraw_plain
from fleet.views.pages import form_page, in_pages, link_to, submit
from fleet.views.permissions import may_bench, may_keep
from fleet.views.record_pages import withdraw_page

from ..assessment.services import ensure_assessed
from .change_selectors import due_changes
from .forms import DrawForm
from .selectors import (
    all_samples,
    compared_with,
    depots_to_draw_from,
    get_sample_or_404,
    next_draw,
    with_found,
)
from .services import draw_sample, drawn_again, end_sample, new_seed
from .sheet_selectors import bench_sheet
from .size_selectors import plan_of
from .tables import ChangedTable, ComparedTable, MatTable, SampleTable, ShareTable, StrataTable, length_in_words


def sample_list(request):
    on = timezone.localdate()
    table = in_pages(request, SampleTable(all_samples()))
    with_found((row.record for row in table.paginated_rows), on)
    return render(request, "inspections/sampling/list.html", {"table": table})


@may_bench
def draw(request):
    """Sent with *look*, it only says what would be drawn."""
    on = timezone.localdate()
    ensure_assessed(on)
    looks = "look" in request.POST
    form = DrawForm(request.POST or None, depots=depots_to_draw_from(on), seed=new_seed())
    address = None if looks else submit(request, form, partial(_draw, request, on))
    if address:
        return redirect(address)
    ready = not form.is_bound or form.is_valid()
    planned = next_draw(on, **form.act_values) if ready else None
    context = {"planned": planned, "strata": planned and StrataTable(planned.strata), "ready": ready}
    if looks and ready:
        return render(request, "inspections/sampling/draw.html", {"form": form, **context})
    return form_page(request, "inspections/sampling/draw.html", form, **context)


def sample_detail(request, number):
    on = timezone.localdate()
    ensure_assessed(on)
    sample = get_sample_or_404(number)
    found, compared = compared_with(sample, on)
    changes = due_changes(found)
    lengths = [(length_in_words(metres), share) for metres, share in found.by_length]
    shares = [("Mats with a cable over", found.of_mats), ("Cables over", found.of_cables), *lengths]
    again = drawn_again(sample)
    context = {
        "sample": sample,
        "found": found,
        "plan": plan_of(sample),
        "on": on,
        "mats": MatTable(found.mats, may_measure=sample.is_running and request.user.has_perm(MAY_BENCH)),
        "shares": ShareTable(shares),
        "changes": ChangedTable(changes) if changes else None,
        "compared": ComparedTable(compared) if len(compared) > 1 else None,
        "drawn_the_same": again == [mat.sampled.frame_row for mat in found.mats],
        "drawn_again": [sample.frame["mats"][row][0] for row in again],
        "trail": trail_of(sample),
    }
    return render(request, "inspections/sampling/sample.html", context)


def sample_sheet(request, number):
    on = timezone.localdate()
    ensure_assessed(on)
    sample = get_sample_or_404(number)
    return render(request, "inspections/sampling/sheet.html", {"sample": sample, "mats": bench_sheet(sample, on)})


@may_keep
def end(request, number):
    sample, on = get_sample_or_404(number), timezone.localdate()
    ensure_assessed(on)
    form = ReasonForm(request.POST or None)
    if submit(request, form, partial(end_sample, sample, by=request.user, on=on), row=sample) is not None:
        messages.success(request, f"{sample} is ended.")
        return redirect(sample)
    return form_page(request, "inspections/sampling/end.html", form, sample=sample)


@may_keep
def withdraw(request, number):
    lead = "It was drawn by mistake: no list compares it any more. Its readings still count for their cables."
    return withdraw_page(request, get_sample_or_404(number), withdraw_plain, parent=_parent(), lead=lead)


def _parent():
    return link_to("inspections:sample-list", "Samples")


def _draw(request, on, **values):
    sample = draw_sample(by=request.user, on=on, **values)
    messages.success(request, f"{sample} is drawn: {sample.size} of {sample.frame_size} mats. Print its bench sheet.")
    return sample.get_absolute_url()
