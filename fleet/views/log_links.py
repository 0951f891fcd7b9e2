"""Links for phones: the list, making one, withdrawing one, and the address itself, which signs a phone in."""

from datetime import timedelta
from functools import partial
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from ..access import LINK_OF_SESSION
from ..figures import short_day
from ..forms.log_links import LogLinkForm, WithdrawLinkForm
from ..limits import USUAL_LINK_DAYS
from ..qr_chart import qr_code
from ..selectors.log_links import find_working_link, get_link_or_404, links_with_use
from ..services.link_ends import withdraw_link
from ..services.log_links import make_link, new_secret, sign_in_by_link
from ..tables.log_links import LogLinkTable
from .pages import form_page, list_page, submit
from .permissions import may_keep
from .pool_address import only_from_here, pool_address
from .secrets import shows_secret

MADE_ALREADY = (
    "“{name}” was made already, when the page was sent the first time. Its address was shown then and is kept nowhere. "
    "If you do not have it, withdraw the link and make a new one."
)


@may_keep
def link_list(request):
    return list_page(request, "fleet/log_links.html", LogLinkTable(links_with_use(timezone.now())))


@may_keep
@shows_secret
def link_add(request):
    """The address is shown by the page that answers, and never again."""
    on, secret = timezone.localdate(), new_secret()
    form = LogLinkForm(request.POST or None, on=on, initial={"last_day": on + timedelta(days=USUAL_LINK_DAYS)})
    place = submit(request, form, partial(_make, secret=secret, by=request.user, on=on))
    if place is None:
        return form_page(request, "fleet/log_link_add.html", form, unreachable=only_from_here(pool_address(request)))
    link = find_working_link(secret, on)
    if link is None:
        messages.warning(request, MADE_ALREADY.format(name=form.cleaned_data["name"]))
        return redirect(place)
    return _show_once(request, link, secret)


def _make(**values):
    make_link(**values)
    return reverse("fleet:log-links")


def _show_once(request, link, secret):
    address = pool_address(request) + reverse("sign-in-by-link", args=[secret])
    context = {"link": link, "address": address, "qr": qr_code(address), "unreachable": only_from_here(address)}
    return render(request, "fleet/log_link_made.html", context)


@may_keep
def link_withdraw(request, pk):
    link = get_link_or_404(pk, timezone.now())
    form = WithdrawLinkForm(request.POST or None)
    if submit(request, form, partial(withdraw_link, link, by=request.user), row=link) is not None:
        messages.success(request, f"{link} is withdrawn. Whoever was signed in by it is signed out.")
        return redirect("fleet:log-links")
    return form_page(request, "fleet/log_link_withdraw.html", form, link=link)


@login_not_required
@shows_secret
def open_link(request, secret):
    """Reading it does nothing, because previews of addresses read them, too; its button signs in."""
    now = timezone.now()
    if request.method == "POST":
        address = request.META.get("REMOTE_ADDR", "")
        link = sign_in_by_link(secret, now=now, address=address, enter=partial(_enter, request, now))
        if link is not None:
            return redirect("fleet:event-log")
    else:
        link = find_working_link(secret, timezone.localdate(now))
    template = "fleet/sign_in_by_link.html" if link else "fleet/link_does_not_work.html"
    pool = urlsplit(pool_address(request)).netloc
    answer = render(request, template, {"link": link, "pool": pool}, status=200 if link else 404)
    # Without its path. With `no-referrer` browsers send no origin either, by which the form is known as ours.
    answer["Referrer-Policy"] = "strict-origin"
    return answer


def _enter(request, now, link):
    """A new session, of the link and of nobody who was signed in here before."""
    request.session.flush()
    request.session[LINK_OF_SESSION] = link.pk
    request.session.set_expiry(min(link.ends_at, now + settings.SESSION_LONGEST))
    login(request, link.account)
    until = short_day(link.ends_on)
    messages.success(request, f"This phone is signed in as {link.account}, until {until} at the latest.")
