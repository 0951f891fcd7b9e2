"""Delete what never was so, on a page that says what follows."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone

from ..forms.deleting import DeleteForm
from ..models import Event
from ..selectors.deleting import deletion_of_event, was_deleted
from ..selectors.usage import get_event_or_404
from ..services.deleting import delete_event
from .pages import form_page, submit
from .permissions import may_keep


@may_keep
def event(request, code):
    if pressed_twice(request, Event, code=code):
        return redirect("fleet:event-list")
    row = get_event_or_404(code)
    form = DeleteForm(request.POST or None, deletion=deletion_of_event(row))
    return delete_page(request, form, delete_event, "the event", parent=row, leads_to="fleet:event-list")


def pressed_twice(request, model, **of):
    return request.method == "POST" and was_deleted(model, **of)


def delete_page(request, form, service, what, *, parent, leads_to):
    """`what` is deleted; `parent`: the row whose page leads here."""
    deletion = form.deletion
    act = partial(service, deletion.row, by=request.user, on=timezone.localdate())
    done = submit(request, form, act, row=deletion.row)
    if done is not None:
        for sentence in (f"Deleted: {what} {deletion.row}.", *done.follows):
            messages.success(request, sentence)
        return redirect(leads_to)
    return form_page(request, "fleet/delete.html", form, deletion=deletion, parent=parent, what=what)
