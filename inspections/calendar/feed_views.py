"""The calendar as a file: to download, and to fetch again and again from a secret address that an account has."""

from functools import partial

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.forms.submissions import OnceForm
from fleet.selectors.calendar_feeds import feed_of, find_working_feed
from fleet.services.calendar_feeds import end_feed, new_secret, note_fetched, renew_feed
from fleet.views.pages import form_page, submit
from fleet.views.permissions import not_by_link
from fleet.views.pool_address import only_from_here, pool_address
from fleet.views.secrets import shows_secret

from ..assessment.services import ensure_assessed
from ..due.selectors import depots_with_mats
from .forms import DepotFilter
from .ics_tables import calendar_file, file_name
from .plan_selectors import depot_plans

MADE_ALREADY = (
    "The address was made already, when the page was sent the first time. It was shown then and is kept nowhere. "
    "If you do not have it, make a new one."
)


@require_safe
def download(request):
    now = timezone.now()
    form = DepotFilter(request.GET, on=timezone.localdate(now), depots=depots_with_mats(timezone.localdate(now)))
    answer = _file(request, now, depot=form.of_depot)
    answer["Content-Disposition"] = f'attachment; filename="{file_name(now)}"'
    return answer


@login_not_required
@require_safe
@shows_secret
def feed(request, secret):
    """For a program that was told the address; it signs nobody in, and leads nowhere once the account made another."""
    now, known = timezone.now(), find_working_feed(secret)
    if known is None:
        raise Http404("This address does not work, or does not work any more.")
    note_fetched(known, now=now)
    return _file(request, now)


@not_by_link
@shows_secret
def address(request):
    """The address is shown by the page that answers, and never again."""
    secret, form = new_secret(), OnceForm(request.POST or None)
    place = submit(request, form, partial(_make, request.user, secret))
    if place is None:
        context = {"feed": feed_of(request.user), "unreachable": only_from_here(pool_address(request))}
        return form_page(request, "inspections/calendar/address.html", form, **context)
    if find_working_feed(secret) is None:
        messages.warning(request, MADE_ALREADY)
        return redirect(place)
    whole = pool_address(request) + reverse("calendar-feed", args=[secret])
    context = {"address": whole, "unreachable": only_from_here(whole)}
    return render(request, "inspections/calendar/address_made.html", context)


def _make(account, secret):
    renew_feed(account, secret=secret, now=timezone.now())
    return reverse("inspections:calendar-address")


@not_by_link
@require_POST
def end(request):
    if end_feed(request.user, by=request.user):
        messages.success(request, "Your address of the calendar is ended. It leads nowhere now.")
    return redirect("inspections:calendar-address")


def _file(request, now, **asked):
    on = timezone.localdate(now)
    ensure_assessed(on)
    content = calendar_file(depot_plans(on, **asked), now=now, address=pool_address(request))
    return HttpResponse(content, content_type="text/calendar; charset=utf-8")
