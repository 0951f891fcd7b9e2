"""The page on which the cables of a mat are changed."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.access import MAY_KEEP
from fleet.selectors.mats import get_mat_or_404
from fleet.selectors.segments import spares_of_kinds
from fleet.services.submissions import answer_given
from fleet.views.pages import form_page, submit
from fleet.views.permissions import may_bench

from ..assessment.policy_in_force import current_policy
from ..assessment.services import ensure_assessed
from ..bench.method_forms import method_remembered, with_method_proposed
from ..bench.selectors import instruments_in_use
from ..bench.session import remember, remembered
from ..templatetags.figures import counted, short_day
from .change_forms import ChangeForm
from .change_selectors import change_rows, faults_to_answer
from .change_services import WAYS_OUT, change_cables


@may_bench
def change(request, number):
    mat, on = get_mat_or_404(number), timezone.localdate()
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    ensure_assessed(on)
    form = bound_form(request, mat, on)
    address = submit(request, form, partial(_change, request, mat, on))
    return redirect(address) if address else change_page(request, form, on)


def change_page(request, form, on, **context):
    spares = spares_of_kinds([row.place.specified for row in form.rows], on)
    return form_page(request, "inspections/workshop/change.html", form, mat=form.mat, spares=spares, **context)


@may_bench
@require_POST
def verdicts(request, number):
    """What the typed losses of new cables mean, each into its row; of one row where that alone was changed."""
    on = timezone.localdate()
    data = with_method_proposed(request.POST, instruments_in_use(on))
    form = bound_form(request, get_mat_or_404(number), on, data=data)
    form.is_valid()
    rows = [row for row in form.form_rows if request.POST.get("row") in (None, str(row.row.number))]
    changed = {"head_changed": "row" not in request.POST, "proposed": data is not request.POST}
    context = {"form": form, "form_rows": rows, "ways_out": WAYS_OUT, **changed}
    return render(request, "inspections/workshop/_change_verdicts.html", context)


def bound_form(request, mat, on, form_class=ChangeForm, data=None, **given):
    """The form of changing the cables of this mat; `data` None: as it was sent; `given`: what else its class takes."""
    data = data or (request.POST if request.method == "POST" else None)
    bench = _remembered(request, on)
    named = ("instrument", "method", "leads_out", "frequency_mhz", "temperature_c", "measured_by")
    initial = {name: bench.get(name) for name in named}
    return form_class(
        data,
        mat=mat,
        rows=change_rows(mat, on),
        instruments=instruments_in_use(on),
        faults=faults_to_answer(mat, on),
        on=on,
        may_keep=request.user.has_perm(MAY_KEEP),
        initial=initial | {"changed_on": on},
        **given,
    )


def _change(request, mat, on, *, confirmed, changed_on, **values):
    changed = change_cables(mat, by=request.user, on=on, changed_on=changed_on, confirmed=confirmed, **values)
    say_changed(request, mat, on, changed, changed_on, **values)
    return mat.get_absolute_url()


def say_changed(request, mat, on, changed, changed_on, *, faults, bench, **values):
    """Messages on what was changed; instrument and name are remembered for the next mat."""
    said = [f"{mat.at_start}: {counted(len(changed.done), 'position')} changed on {short_day(changed_on)}."]
    if changed.readings:
        said.append(f"{counted(changed.readings, 'reading')} saved.")
    if closed := sum(done.ended_faults for done in changed.done) + len(faults):
        said.append(f"{counted(closed, 'fault')} closed by the change.")
    messages.success(request, " ".join(said))
    if changed.given:
        numbers = ", ".join(f"{serial} in position {position}" for position, serial in changed.given.items())
        messages.info(request, f"Our own running numbers: {numbers}. Write them on the cables.")
    for done in changed.done:
        for remark in done.remarks:
            messages.warning(request, remark)
    _remember(request, on, bench)


def _remember(request, on, bench):
    """Instrument, frequency, temperature and name for the next mat, here and at the bench; never the day."""
    said = vars(bench) | method_remembered(bench.method, bench.instrument)
    remember(request, _remembered(request, on) | said, on)


def _remembered(request, on):
    return remembered(request, on, current_policy().value("reference_mhz"))
