"""What somebody typed and sent is not lost when it cannot be acted on: signed out meanwhile, or from a stale page.

It travels in the page itself, signed, and is offered to be sent again. Passwords and files are never kept.
"""

from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import LoginView
from django.core import signing
from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.views.csrf import csrf_failure as plain_csrf_failure

from fleet.forms.people import SignInForm
from fleet.views.next_page import is_ours
from fleet.views.sign_in import asked_to_wait, browser_of, remember_browser

FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
# the largest form is a pool's list of mats typed by hand; what is larger came from no form of ours
LARGEST_KEPT_BYTES = 200_000
SALT = "halfpower.sent_form"
MACHINERY = ("token", "row", "version", "mat", "moves", "act", "seen", "confirmed", "offered")


@dataclass(frozen=True)
class SentForm:
    """Where a form was sent to and what stood in it, without secrets; `files`: some came with it, and are not kept."""

    path: str
    fields: list
    files: bool = False

    @classmethod
    def of(cls, request):
        """The form of this request; None where there is none that may be kept."""
        if request.method != "POST" or request.content_type not in FORMS or not _is_small(request):
            return None
        fields = [(name, value) for name, values in request.POST.lists() for value in values if not _is_secret(name)]
        return cls(request.get_full_path(), fields, any(request.FILES.values())) if fields else None

    @classmethod
    def unpacked(cls, text):
        """The form that `packed` hid in a page; None where that was tampered with."""
        try:
            return cls(*signing.loads(text, salt=SALT))
        except signing.BadSignature:
            return None

    @property
    def packed(self):
        return signing.dumps([self.path, self.fields, self.files], salt=SALT, compress=True)

    @property
    def typed(self):
        """(words, value) of what a person would know again."""
        return [(name.replace("_", " "), value) for name, value in self.fields if value and name not in MACHINERY]


def _is_small(request):
    """Of a form with files what was typed beside them."""
    length = request.META.get("CONTENT_LENGTH") or ""
    if not length.isdecimal() or not int(length):
        return False
    if int(length) <= LARGEST_KEPT_BYTES or request.content_type == FORMS[0]:
        return int(length) <= LARGEST_KEPT_BYTES
    return sum(len(value) for values in request.POST.lists() for value in values[1]) <= LARGEST_KEPT_BYTES


def _is_secret(name):
    # "again" is where a new password is typed a second time
    return name in ("csrfmiddlewaretoken", "again") or "password" in name.lower()


class SignInKeepsForm(LoginRequiredMiddleware):
    """A form sent after signing out is answered by the sign-in page, which keeps it."""

    def handle_no_permission(self, request, view_func):
        if request.htmx and not _is_page_of(request):
            # a part of a page: the whole form is still there, and keeps all when it is sent
            return HttpResponse(status=401)
        form = SentForm.of(request)
        return sign_in_page(request, form) if form else super().handle_no_permission(request, view_func)


def sign_in_page(request, form):
    view = SignIn()
    view.setup(request)
    context = view.get_context_data(form=view.form_class(request), kept=form, next=form.path)
    return _whole_page(request, "registration/login.html", context, 401)


class SignIn(LoginView):
    """Signs in, and offers a kept form to be sent. It is never sent by itself: another person may have signed in."""

    form_class = SignInForm

    def get_form_kwargs(self):
        asked = {"address": self.request.META.get("REMOTE_ADDR", ""), "browser": browser_of(self.request)}
        return super().get_form_kwargs() | asked | {"now": timezone.now()}

    def get_redirect_url(self):
        address = super().get_redirect_url()
        return address if is_ours(self.request, address) else ""

    def form_valid(self, form):
        if self.request.user == form.get_user():
            # Django renews the session's key for everybody else
            self.request.session.cycle_key()
        answer = super().form_valid(form)
        kept = SentForm.unpacked(self.request.POST.get("kept", ""))
        answer = send_again_page(self.request, kept, 200) if kept else answer
        return remember_browser(self.request, answer, form.get_user())

    def form_invalid(self, form):
        return asked_to_wait(super().form_invalid(form), form)

    def get_context_data(self, **kwargs):
        kept = SentForm.unpacked(self.request.POST.get("kept", ""))
        return {"kept": kept, **super().get_context_data(**kwargs)}


def send_again_page(request, form, status):
    return _whole_page(request, "send_again.html", {"sent": form, "token": get_token(request)}, status)


def csrf_failure(request, reason=""):
    """A form from before somebody signed in anew in this browser. Only what our own page sent is offered again."""
    if not _is_from_our_page(request) or (request.htmx and not _is_page_of(request)):
        return plain_csrf_failure(request, reason)
    signing_in = request.path == resolve_url(settings.LOGIN_URL)
    form = SentForm.unpacked(request.POST.get("kept", "")) if signing_in else SentForm.of(request)
    if signing_in and form is None:
        return redirect(settings.LOGIN_REDIRECT_URL)
    if form is None:
        return plain_csrf_failure(request, reason)
    return send_again_page(request, form, 403) if request.user.is_authenticated else sign_in_page(request, form)


def _is_from_our_page(request):
    """The browser says so itself; a page elsewhere cannot forge it, so it cannot lend our button its own words."""
    return request.headers.get("Origin") in (f"{request.scheme}://{request.get_host()}", *settings.CSRF_TRUSTED_ORIGINS)


def _is_page_of(request):
    """The part of a page was asked for by the page of the same address, whose form it therefore is."""
    try:
        return urlsplit(request.htmx.current_url or "").path == request.path
    except ValueError:
        return False  # no address


def _whole_page(request, template, context, status):
    """htmx changes nothing for an error, and only a part otherwise: the answer makes it replace the whole page."""
    answer = render(request, template, context, status=200 if request.htmx else status)
    if request.htmx:
        answer["HX-Retarget"], answer["HX-Reswap"] = "body", "innerHTML"
    return answer
