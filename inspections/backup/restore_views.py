"""A back-up put in place of the pool from the browser: looked at first, then with the keeper's password."""

import logging

from django.contrib import messages
from django.contrib.auth import logout
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.record_forms import add_refusal
from fleet.views.permissions import may_keep
from fleet.views.sign_in import asked_to_wait

from ..management.demo_accounts import switch_off_if_reached
from ..management.starting import one_start_at_a_time
from .forms import RestoreForm
from .preview import look_into
from .restorable import backup_called, discard_sent, named_as, was_sent
from .restoring import restore_backup
from .tables import KindTable

PATIENCE_S = 20
GONE = "This back-up is not here any more. Send it again, or choose another."
log = logging.getLogger(__name__)


class RestoredAlready(Exception):
    """Whoever asks was signed out by a restore of somebody else, or by the first of two clicks."""


@may_keep
@require_http_methods(["GET", "POST"])
def restore(request, name):
    path = backup_called(name)
    if path is None:
        messages.error(request, GONE)
        return redirect("inspections:copies")
    asked = {"person": request.user, "address": request.META.get("REMOTE_ADDR", ""), "now": timezone.now()}
    form = RestoreForm(request.POST or None, **asked)
    if form.is_bound and form.is_valid():
        try:
            return _restore(request, name, path)
        except RestoredAlready:
            return redirect("sign-in")
        except ValidationError as refusal:
            add_refusal(form, refusal)
    return _preview(request, name, path, form)


def _preview(request, name, path, form):
    try:
        with one_start_at_a_time(PATIENCE_S), named_as("The file", path):
            look = look_into(path, person=request.user)
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
        return redirect("inspections:copies")
    table = KindTable(look.kinds, exclude=() if look.is_of_this_pool else ("since",))
    context = {"name": name, "sent": was_sent(name), "look": look, "table": table, "form": form}
    status = 422 if form.is_bound else 200
    answer = render(request, "inspections/backup/restore.html", context, status=status)
    return asked_to_wait(answer, form)


def _restore(request, name, path):
    """The page that says what was done: nobody is signed in any more, so no other page could."""
    said, by = [], request.user.username
    with one_start_at_a_time(PATIENCE_S), named_as("The file", path):
        if not request.session.exists(request.session.session_key):
            raise RestoredAlready
        now = timezone.localtime()
        manifest = restore_backup(path, replace=True, now=now, notify=said.append, needs_keeper=True)
        switch_off_if_reached(said.append)
    logout(request)
    discard_sent(name)
    log.warning("%s restored the back-up made at %s: %s", by, manifest.made_at, " ".join(said))
    return render(
        request, "inspections/backup/restored.html", {"made": timezone.localtime(manifest.made), "said": said}
    )


@may_keep
@require_POST
def leave(request, name):
    discard_sent(name)
    messages.success(request, "Nothing was restored. The pool is as it was.")
    return redirect("inspections:copies")
