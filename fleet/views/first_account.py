"""The first account of a pool that no keeper can sign in to.

It is made with a code that only the terminal shows in which the pool was started, from the pool's own computer; where a
whole network is served, from any computer of it. A server of another kind asks for no code: there any program of its
computer may make it.
"""

from functools import partial, wraps

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import redirect, render

from ..forms.people import FirstAccountForm, FirstAccountWithCodeForm
from ..selectors.people import no_keeper_can_sign_in, nobody_has_an_account
from ..services.first_code import asked_code
from ..services.people import add_first_keeper
from .pages import form_page, submit
from .secrets import shows_secret

THIS_COMPUTER = {"127.0.0.1", "::1"}
# Somebody else's request, passed on by a proxy that runs on this computer.
PASSED_ON = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP", "HTTP_VIA")


def first_account_first(sign_in):
    """The view for signing in; where no keeper can it leads to the first account."""

    @wraps(sign_in)
    def view(request, *args, **kwargs):
        if request.method == "GET" and no_keeper_can_sign_in():
            return redirect("first-account")
        return sign_in(request, *args, **kwargs)

    return view


@login_not_required
@shows_secret
def first_account(request):
    is_asked = no_keeper_can_sign_in()
    code = asked_code() if is_asked else None
    if not (code and code.from_network) and not is_from_this_computer(request):
        return render(request, "fleet/first_account_elsewhere.html", status=403)
    if request.method != "POST" and not is_asked:
        raise Http404
    form = _form_with(code, request) if code else FirstAccountForm(request.POST or None)
    keeper = submit(request, form, add_first_keeper)
    if keeper is None:
        context = {"with_code": bool(code), "is_new": nobody_has_an_account()}
        return form_page(request, "fleet/first_account.html", form, **context)
    login(request, keeper)
    return redirect(settings.LOGIN_REDIRECT_URL)


def _form_with(code, request):
    check = partial(code.check, address=request.META.get("REMOTE_ADDR", ""))
    return FirstAccountWithCodeForm(request.POST or None, initial={"code": request.GET.get("code")}, check=check)


def is_from_this_computer(request):
    return request.META.get("REMOTE_ADDR") in THIS_COMPUTER and not any(name in request.META for name in PASSED_ON)
