"""Tell what was done by a work order, and sign it off."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from fleet.services.submissions import answer_given
from fleet.views.pages import submit
from fleet.views.permissions import may_bench

from ..assessment.services import ensure_assessed
from ..choices import TELLABLE, OrderState
from ..templatetags.figures import counted
from .change_views import bound_form, change_page, say_changed
from .selectors import get_work_order_or_404
from .sign_off_forms import SignOffForm
from .sign_off_services import answer_order


@may_bench
def work_order_done(request, number):
    order, on = get_work_order_or_404(number), timezone.localdate()
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    if request.method != "POST" and order.state_on(on) not in TELLABLE:
        return redirect(order)
    ensure_assessed(on)
    lines = {line.position: line for line in order.lines.all() if line.is_open}
    form = bound_form(request, order.mat, on, SignOffForm, lines=lines)
    address = submit(request, form, partial(_answer, request, order, on))
    return redirect(address) if address else change_page(request, form, on, order=order)


def _answer(request, order, on, *, changed_on, left, changes, **values):
    order, changed = answer_order(
        order, by=request.user, on=on, changed_on=changed_on, left=left, changes=changes, **values
    )
    if changed:
        say_changed(request, order.mat, on, changed, changed_on, **values)
    if left:
        messages.success(request, f"{counted(len(left), 'cable')} left, with the reason.")
    if order.state_on(on) == OrderState.SIGNED:
        messages.success(request, f"{order} is signed off.")
    else:
        messages.info(request, f"{order} is not done yet: {counted(order.count_to_do(), 'cable')} to do.")
    return order.get_absolute_url()
