"""Fit a cable into a position, take one out, correct a fitting."""

from functools import partial

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect
from django.utils import timezone

from ..figures import short_day
from ..forms.fittings import FitForm, FittingCorrectionForm, TakeOutForm
from ..forms.record_forms import values_of
from ..selectors.mats import get_mat_or_404, positions_of
from ..selectors.segments import get_fitting_or_404, spares_for, trail_of_segment
from ..services.fittings import correct_fitting, fit_segment, take_out
from ..services.submissions import answer_given
from .pages import form_page, link_to, submit
from .permissions import may_bench, may_keep
from .record_pages import correct_page


@may_bench
def fit(request, number, position):
    mat, on = get_mat_or_404(number), timezone.localdate()
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    place = _position_or_404(mat, position, on, specified=True)
    asked = {"fitted_on": on, "segment": request.GET.get("segment", "")}
    form = FitForm(request.POST or None, mat=mat, occupant=place.fitting, initial=asked)
    address = submit(request, form, partial(_fit, request, mat, position, on), row=place.fitting)
    if address:
        return redirect(address)
    context = {"mat": mat, "place": place, "spares": spares_for(place.specified, on), "on": on}
    return form_page(request, "fleet/fit.html", form, **context)


def _fit(request, mat, position, on, *, confirmed, **values):
    done = fit_segment(mat=mat, position=position, by=request.user, on=on, confirmed=confirmed, **values)
    messages.success(request, f"{done.fitting.segment} is in {mat} position {position}.{_ended(done)}")
    _show_remarks(request, done)
    return mat.get_absolute_url()


@may_bench
def take_out_of(request, number, position):
    mat, on = get_mat_or_404(number), timezone.localdate()
    fitting = _position_or_404(mat, position, on).fitting
    if fitting is None:
        messages.warning(request, f"Position {position} of {mat} is empty on {short_day(on)}.")
        return redirect(mat)
    form = TakeOutForm(request.POST or None, initial={"removed_on": on})
    done = submit(request, form, partial(take_out, fitting, by=request.user, on=on), row=fitting)
    if done is not None:
        messages.success(request, f"{done.taken_out} is out of {mat} position {position}.{_ended(done)}")
        _show_remarks(request, done)
        return redirect(mat)
    return form_page(request, "fleet/take_out.html", form, mat=mat, fitting=fitting)


@may_keep
def fitting_correct(request, serial, pk):
    fitting, on = get_fitting_or_404(serial, pk), timezone.localdate()
    form = FittingCorrectionForm(request.POST or None, initial=values_of(fitting, FittingCorrectionForm))
    return correct_page(
        request,
        fitting,
        form,
        partial(correct_fitting, fitting, by=request.user, on=on),
        parent=link_to("fleet:segment-list", "Cables"),
        return_url=fitting.segment.get_absolute_url(),
        trail=lambda row: trail_of_segment(row.segment),
    )


def _position_or_404(mat, position, on, specified=False):
    """The position; `specified`: one that the design has."""
    place = next((place for place in positions_of(mat, on) if place.number == position), None)
    if place is None or (specified and place.specified is None):
        raise Http404
    return place


def _ended(done):
    if not done.ended_faults:
        return ""
    return f" {done.ended_faults} open fault{'s' if done.ended_faults > 1 else ''} of that position ended by change."


def _show_remarks(request, done):
    for remark in done.remarks:
        messages.warning(request, remark)
