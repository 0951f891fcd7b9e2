"""Notes on mats, cables and events: written, corrected, done."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..access import name_of
from ..choices import NoteAbout
from ..figures import short_day
from ..models import CableSegment, Event, Mat, Note
from ..selectors.numbering import next_free_note
from .locks import hold, hold_pool
from .rows import add_row, check_day, correct_row

ABOUT = {Mat: NoteAbout.MAT, CableSegment: NoteAbout.SEGMENT, Event: NoteAbout.EVENT}


@transaction.atomic
def add_note(subject, *, by, on, text, noted_on):
    """An open note about a mat, a cable segment or an event."""
    hold_pool()
    hold(subject)
    check_day("noted_on", noted_on, on, "day of the note")
    about = ABOUT[type(subject)]
    who = name_of(by)
    values = {about.value: subject, "about": about, "noted_on": noted_on, "text": text, "written_by": who[:100]}
    return add_row(Note, by=by, code=next_free_note(), **values)


@transaction.atomic
def finish_note(note, *, by, on, seen_version=None):
    """What it asks for is done, as of today."""
    return _correct(note, by=by, on=on, seen_version=seen_version, done_on=on)


@transaction.atomic
def correct_note(note, *, by, on, reason="", seen_version=None, **values):
    """What it says and when; also that it is done, or open after all (no `done_on`)."""
    return _correct(note, by=by, on=on, reason=reason, seen_version=seen_version, **values)


def _correct(note, *, on, **values):
    hold(note)
    noted_on, done_on = (values.get(name, getattr(note, name)) for name in ("noted_on", "done_on"))
    check_day("noted_on", noted_on, on, "day of the note")
    check_day("done_on", done_on, on, "day it was done")
    if done_on is not None and done_on < noted_on:
        raise ValidationError({"done_on": f"It was written on {short_day(noted_on)} and done before that."})
    return correct_row(note, **values)
