"""When were these cables fitted?"""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.fitting_days import FittingDayForm
from ..selectors.fitting_days import guessed_mats
from ..services.fitting_days import tell_fitting_day
from ..services.submissions import answer_given
from ..templatetags.days import fitted_day
from .next_page import next_page
from .pages import form_page, submit
from .permissions import may_keep


@may_keep
def fitting_days(request):
    """Asked with mats: they are ticked. `about`: so is that cables known roughly are corrected too."""
    on = timezone.localdate()
    if answered := answer_given(request.POST.get("token")):
        return redirect(answered)
    guessed = guessed_mats(on)
    asked = {"ticked": request.GET.getlist("mat"), "initial": {"also_about": "about" in request.GET}}
    form = FittingDayForm(request.POST or None, guessed=guessed, on=on, **asked)
    address = submit(request, form, partial(_tell, request, on))
    if address:
        return redirect(address)
    return form_page(request, "fleet/fitting_days.html", form)


def _tell(request, on, *, confirmed, fittings, **values):
    corrected = tell_fitting_day(fittings, by=request.user, on=on, confirmed=confirmed, **values)
    mats = list(dict.fromkeys(fitting.mat for fitting in fittings))
    named = f"{mats[0]}" if len(mats) == 1 else f"{len(mats)} mats"
    if corrected:
        cables = f"{len(corrected)} cable{'s' * (len(corrected) != 1)} of {named}"
        messages.success(request, f"Fitted {fitted_day(corrected[0])}: {cables}.")
    else:
        messages.info(request, f"Nothing changed: this is what was on record of {named}.")
    return next_page(request, mats[0])
