"""Delete what never was so: each on a page that says what follows."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from fleet.models import Fitting
from fleet.selectors.segments import get_fitting_or_404, get_segment_or_404
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_bench

from .forms import DeleteFittingForm
from .selectors import deletion_of_fitting, was_deleted
from .services import delete_fitting


@may_bench
def fitting(request, serial, pk):
    if request.method == "POST" and was_deleted(Fitting, id=pk):
        return redirect(get_segment_or_404(serial))  # pressed twice
    row = get_fitting_or_404(serial, pk)
    form = DeleteFittingForm(request.POST or None, deletion=deletion_of_fitting(row))
    return _page(request, form, delete_fitting, row.mat, "the fitting")


def _page(request, form, service, back, what):
    """`back`: the row whose page leads here, and that one is led back to; `what` is deleted."""
    deletion = form.deletion
    act = partial(service, deletion.row, by=request.user, on=timezone.localdate())
    done = submit(request, form, act, row=deletion.row)
    if done is not None:
        for sentence in (f"Deleted: {what} {deletion.row}.", *done.follows):
            messages.success(request, sentence)
        return redirect(back)
    return form_page(request, "inspections/deleting/delete.html", form, deletion=deletion, back=back, what=what)
