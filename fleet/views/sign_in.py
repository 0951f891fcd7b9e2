"""What signing in reads and writes beside its form: the browser's mark, and how long to wait."""

from django.conf import settings

from ..services.known_browsers import KEPT, Browser


def browser_of(request):
    return Browser.read(request.COOKIES.get(_cookie_name(), ""))


def remember_browser(request, answer, person):
    """The answer, which tells the browser to keep that this account signed in from it."""
    answer.set_cookie(
        _cookie_name(),
        browser_of(request).after(person).packed,
        max_age=KEPT,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
    return answer


def asked_to_wait(answer, form):
    """The page of a refused form; where that says to wait, so does the answer."""
    if form.wait_s:
        answer.status_code = 429
        answer["Retry-After"] = str(form.wait_s)
    return answer


def _cookie_name():
    """As the session's, with whatever tells pools on one computer apart."""
    return f"{settings.SESSION_COOKIE_NAME}_known"
