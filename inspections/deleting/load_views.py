"""Take a load or a run of *Start here* back, on a page that says what goes and what stands against it."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from fleet.selectors.loads import get_load_or_404
from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_keep

from .load_forms import TakeBackForm
from .load_selectors import taking_back
from .load_services import take_back


@may_keep
def take_load_back(request, pk):
    load = get_load_or_404(pk)
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    if load.taken_back_at:
        messages.error(request, "It was taken back already.")
        return redirect("inspections:load-detail", pk)
    form = TakeBackForm(request.POST or None, look=taking_back(load))
    if address := submit(request, form, partial(_take_back, request, load)):
        return redirect(address)
    if form.is_bound:
        form.renew(taking_back(load))
    return form_page(request, "inspections/deleting/take_back.html", form, load=load, look=form.look)


def _take_back(request, load, reason, follows):
    look = take_back(load, by=request.user, on=timezone.localdate(), reason=reason, follows=follows)
    for sentence in ("It is taken back, and its numbers are free again.", *look.stays):
        messages.success(request, sentence)
    return reverse("inspections:load-detail", args=[load.pk])
