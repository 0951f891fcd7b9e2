"""These belong to another mat: readings of one day moved in one act."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from fleet.selectors.mats import all_mats, get_mat_or_404
from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_bench

from ..templatetags.figures import counted
from .moving_forms import ChooseReadingsForm, MoveReadingsForm
from .moving_selectors import moves_to, reading_sets
from .moving_services import move_readings
from .tables import MoveTable


@may_bench
def move(request, number):
    """First which readings and which mat; asked with both, the pairs with their values, and the act."""
    mat, on = get_mat_or_404(number), timezone.localdate()
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    choose = ChooseReadingsForm(request.GET or None, mat=mat, sets=reading_sets(mat, on), mats=all_mats())
    if not choose.is_valid():
        return form_page(request, "inspections/bench/move.html", choose, mat=mat)
    other, readings = choose.cleaned_data["to"], choose.cleaned_data["readings"].readings
    moves = moves_to(mat, other, readings, on)
    form = MoveReadingsForm(request.POST or None, moves=moves, other=other)
    address = submit(request, form, partial(_move, request, on, readings, mat, other))
    if address:
        return redirect(address)
    context = {"mat": mat, "other": other, "table": MoveTable(moves, mat=mat, other=other)}
    context["refused"] = [each.refusal for each in moves if each.refusal]
    return form_page(request, "inspections/bench/move_pairs.html", form, **context)


def _move(request, on, readings, mat, other, *, confirmed, **values):
    moved = move_readings(readings, mat, other, by=request.user, on=on, confirmed=confirmed, **values)
    messages.success(request, f"{counted(len(moved), 'reading')} moved from {mat} to {other}.")
    return other.get_absolute_url()
