"""The first account of a new pool, made on a page that only the pool's own computer can reach."""

from functools import wraps

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import redirect, render

from ..forms.people import FirstAccountForm
from ..selectors.people import nobody_has_an_account
from ..services.people import add_first_keeper
from .pages import form_page, submit

THIS_COMPUTER = {"127.0.0.1", "::1"}
# Somebody else's request, passed on by a proxy that runs on this computer.
PASSED_ON = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP", "HTTP_VIA")


def first_account_first(sign_in):
    """The view for signing in; where nobody can sign in yet it leads to the first account."""

    @wraps(sign_in)
    def view(request, *args, **kwargs):
        if request.method == "GET" and nobody_has_an_account():
            return redirect("first-account")
        return sign_in(request, *args, **kwargs)

    return view


@login_not_required
def first_account(request):
    if not is_from_this_computer(request):
        return render(request, "fleet/first_account_elsewhere.html", status=403)
    if request.method != "POST" and not nobody_has_an_account():
        raise Http404
    form = FirstAccountForm(request.POST or None)
    keeper = submit(request, form, add_first_keeper)
    if keeper is None:
        return form_page(request, "fleet/first_account.html", form)
    login(request, keeper)
    return redirect(settings.LOGIN_REDIRECT_URL)


def is_from_this_computer(request):
    return request.META.get("REMOTE_ADDR") in THIS_COMPUTER and not any(name in request.META for name in PASSED_ON)
