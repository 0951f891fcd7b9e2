"""Delete what never was so: each on a page that says what follows."""

from django.shortcuts import redirect
from django.utils import timezone

from fleet.access import MAY_KEEP
from fleet.forms.deleting import DeleteForm
from fleet.models import CableSegment, Fitting, Mat
from fleet.selectors.deleting import was_deleted
from fleet.selectors.mats import get_mat_or_404
from fleet.selectors.segments import get_fitting_or_404, get_segment_or_404
from fleet.views.deleting import delete_page, pressed_twice
from fleet.views.permissions import may_bench, may_keep

from .forms import DeleteFittingForm, DeleteMatForm
from .selectors import deletion_of_fitting, deletion_of_mat, deletion_of_segment
from .services import delete_fitting, delete_mat, delete_segment


@may_bench
def fitting(request, serial, pk):
    if pressed_twice(request, Fitting, id=pk):
        return redirect(
            "fleet:segment-list" if was_deleted(CableSegment, serial=serial) else get_segment_or_404(serial)
        )
    row = get_fitting_or_404(serial, pk)
    form = DeleteFittingForm(
        request.POST or None, deletion=deletion_of_fitting(row), may_keep=request.user.has_perm(MAY_KEEP)
    )
    return delete_page(request, form, delete_fitting, "the fitting", parent=row.mat, leads_to=row.mat)


@may_keep
def segment(request, serial):
    if pressed_twice(request, CableSegment, serial=serial):
        return redirect("fleet:segment-list")
    row = get_segment_or_404(serial)
    form = DeleteForm(request.POST or None, deletion=deletion_of_segment(row))
    return delete_page(request, form, delete_segment, "the cable", parent=row, leads_to="fleet:segment-list")


@may_keep
def mat(request, number):
    if pressed_twice(request, Mat, number=number):
        return redirect("fleet:mat-list")
    row = get_mat_or_404(number)
    form = DeleteMatForm(request.POST or None, deletion=deletion_of_mat(row, timezone.localdate()))
    return delete_page(request, form, delete_mat, "the mat", parent=row, leads_to="fleet:mat-list")
