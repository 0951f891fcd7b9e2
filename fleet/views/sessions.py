"""Where an account is signed in, and signing it out there: everybody's own, and by a keeper those of anybody."""

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from ..forms.sessions import EndSessionsForm
from ..models.accounts import hash_of
from ..selectors.people import get_person_or_404
from ..selectors.sessions import sessions_of
from ..services.sessions import end_sessions
from ..tables.sessions import SessionTable
from .pages import FEW_PER_PAGE, in_pages
from .permissions import may_keep, not_by_link

GONE = "Nobody was signed out: it was done already, or they signed out themselves."


@not_by_link
@require_POST
def own_sessions_end(request):
    _end(request, request.user)
    return redirect("fleet:own-password")


@may_keep
@require_POST
def person_sessions_end(request, name):
    _end(request, get_person_or_404(name))
    return redirect("fleet:person", name)


def session_table(request, person):
    sessions = sessions_of(person, timezone.now(), _this(request))
    return in_pages(request, SessionTable(sessions, is_own=person == request.user), FEW_PER_PAGE)


def _this(request):
    """The key in the database of the browser that asks."""
    return hash_of(request.session.session_key)


def _end(request, person):
    """The browser that asks stays signed in: it has a button of its own for that."""
    form = EndSessionsForm(request.POST)
    by = {"by": request.user, "now": timezone.now(), "but": _this(request)}
    words = form.is_valid() and end_sessions(person, only=form.only, **by)
    if words:
        messages.success(request, f"{person} is signed out: {words}.")
    else:
        messages.info(request, GONE)
