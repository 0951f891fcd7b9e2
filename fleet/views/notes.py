"""Write a note on a mat, a cable or an event, correct it, say that it is done."""

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from ..access import MAY_KEEP, MAY_LOG
from ..forms.notes import NoteCorrectionForm, NoteForm
from ..forms.record_forms import VersionForm, values_of
from ..models.trail import at_start
from ..selectors.mats import get_mat_or_404
from ..selectors.notes import get_note_or_404
from ..selectors.segments import get_segment_or_404
from ..selectors.trail import trail_of
from ..selectors.usage import get_event_or_404
from ..services.notes import add_note, correct_note, finish_note
from .pages import form_page, say_refusal, submit
from .permissions import may_log, require
from .record_pages import correct_page

ON_SHEETS = "As long as it is open, it stands on each work order of the mat."


@may_log
def note_on_mat(request, number):
    mat = get_mat_or_404(number)
    return _add(request, mat, str(mat), ON_SHEETS)


@may_log
def note_on_segment(request, serial):
    segment = get_segment_or_404(serial)
    return _add(request, segment, f"cable {segment}")


@may_log
def note_on_event(request, code):
    event = get_event_or_404(code)
    return _add(request, event, event.name)


def _add(request, subject, name, lead=""):
    on = timezone.localdate()
    form = NoteForm(request.POST or None, initial={"noted_on": on})
    address = submit(request, form, partial(_store, subject, by=request.user, on=on))
    if address:
        messages.success(request, f"Noted on {name}.")
        return redirect(address)
    parent = {"url": subject.get_absolute_url(), "label": at_start(name)}
    return form_page(request, "fleet/add.html", form, title=f"Write a note on {name}", parent=parent, lead=lead)


def _store(subject, **values):
    return add_note(subject, **values).get_absolute_url()


@may_log
@require_POST
def note_done(request, code):
    note, form, on = get_note_or_404(code), VersionForm(request.POST), timezone.localdate()
    if submit(request, form, partial(finish_note, note, by=request.user, on=on), row=note) is not None:
        messages.success(request, f"Done: {note.text}")
    else:
        say_refusal(request, form)
    return redirect(note)


def note_correct(request, code):
    """For whoever wrote it, and for a keeper."""
    note, on = get_note_or_404(code), timezone.localdate()
    if note.recorded_by != request.user or not request.user.has_perm(MAY_LOG):
        require(request.user, MAY_KEEP)
    form = NoteCorrectionForm(request.POST or None, initial=values_of(note, NoteCorrectionForm))
    return correct_page(
        request,
        note,
        form,
        partial(correct_note, note, by=request.user, on=on),
        parent={"url": note.subject.get_absolute_url(), "label": str(note.subject)},
        trail=trail_of,
    )
