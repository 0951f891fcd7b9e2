"""Mats: add, correct, withdraw."""

from functools import partial

from django.http import Http404
from django.utils import timezone

from ..forms.mats import MatCorrectionForm, NewMatForm
from ..forms.record_forms import values_of
from ..selectors.mats import (
    depots_to_choose,
    designs_to_choose,
    get_mat_or_404,
    trail_of_mat,
)
from ..services.new_cables import add_whole_mat
from ..services.register import correct_mat, withdraw_mat
from .pages import link_to
from .permissions import may_keep
from .record_pages import add_page, correct_page, withdraw_page


def mat_list(request):
    """Only names the path, as `mat_detail`: the page of `inspections` that shows how mats stand comes first."""
    raise Http404


def mat_detail(request, number):
    """Only names the path: the page of `inspections` at the same path comes first and shows the condition."""
    raise Http404


@may_keep
def mat_add(request):
    on = timezone.localdate()
    form = NewMatForm(request.POST or None, designs=designs_to_choose(on), depots=depots_to_choose(on), on=on)
    act = partial(add_whole_mat, by=request.user, on=on)
    lead = "Its cables get running numbers of ours. Write serials of your own on the mat's page."
    return add_page(request, form, act, title="Add a mat", parent=_parent(), lead=lead)


@may_keep
def mat_correct(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    form = MatCorrectionForm(
        request.POST or None,
        initial=values_of(mat, MatCorrectionForm),
        designs=designs_to_choose(on, mat.design),
        depots=depots_to_choose(on, mat.depot),
        mat=mat,
        on=on,
    )
    act = partial(correct_mat, mat, by=request.user, on=on)
    return correct_page(request, mat, form, act, parent=_parent(), trail=trail_of_mat)


@may_keep
def mat_withdraw(request, number):
    lead = "It can no longer go to events, and its cables are no longer assessed."
    return withdraw_page(request, get_mat_or_404(number), withdraw_mat, parent=_parent(), lead=lead)


def _parent():
    return link_to("fleet:mat-list", "Mats")
