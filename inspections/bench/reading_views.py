"""Take a reading back, or call it doubtful, each with a reason."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.views.permissions import may_log

from .forms import ReasonForm
from .readings import get_reading_or_404
from .services import clear_doubt, mark_doubtful, take_back_reading


@may_log
def take_back(request, pk):
    return _act(request, get_reading_or_404(pk), "take back", take_back_reading, "The reading is taken back.")


@may_log
def doubtful(request, pk):
    reading = get_reading_or_404(pk)
    if reading.doubtful_because:
        return _act(request, reading, "clear", clear_doubt, "The reading is no longer doubtful.")
    return _act(request, reading, "doubt", mark_doubtful, "The reading is marked doubtful.")


def _act(request, reading, act, service, said):
    form = ReasonForm(request.POST or None, initial={"version": reading.version})
    if request.method == "POST" and form.is_valid():
        because, version = form.cleaned_data["because"], form.cleaned_data["version"]
        try:
            service(reading, by=request.user, on=timezone.localdate(), because=because, seen_version=version)
            messages.success(request, said)
            return redirect(reading.segment)
        except ValidationError as refusal:
            form.add_error(None, refusal)
    context = {"reading": reading, "form": form, "act": act}
    return render(request, "inspections/bench/reading_act.html", context, status=422 if form.is_bound else 200)
