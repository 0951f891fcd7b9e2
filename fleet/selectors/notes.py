"""Notes of a mat, a cable or an event, and one note."""

from django.shortcuts import get_object_or_404

from ..models import Note
from .trail import trail_of_rows


def get_note_or_404(code):
    return get_object_or_404(Note.objects.with_subject(), code=code)


def notes_of(subject):
    """Notes about a mat, a cable segment or an event: the open ones first, then the newest."""
    notes = subject.notes.select_related("recorded_by", "load")
    return sorted(notes, key=lambda note: note.done_on is not None)


def trail_of_notes(subject):
    """The corrections of all notes of a mat, a cable segment or an event."""
    return trail_of_rows(subject.notes.order_by(), name=lambda note: f"Note {note}")
