"""Notes on a mat, a cable or an event: written, corrected, done; and what the database refuses by itself."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from factories import make_event, make_mat, make_note, make_segment

from fleet.models import Note
from fleet.selectors.mats import trail_of_mat
from fleet.selectors.notes import notes_of
from fleet.services.notes import add_note, correct_note, finish_note

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


def note_on(subject, keeper, text="drops on the left side", **values):
    return add_note(subject, by=keeper, on=ON, text=text, **{"noted_on": ON, **values})


@pytest.mark.parametrize("make", [make_mat, make_segment, make_event])
def test_a_note_says_who_wrote_it_when_and_of_what(make, keeper):
    keeper.first_name, subject = "Ida", make()
    note = note_on(subject, keeper)
    note.refresh_from_db()
    assert (note.subject, note.written_by, note.noted_on, note.done_on) == (subject, "Ida", ON, None)
    assert notes_of(subject) == [note]


def test_notes_are_numbered_over_the_whole_pool_above_the_highest(keeper):
    make_note(make_mat(), code="n-00041")
    make_note(make_mat(), code="N-old")
    assert note_on(make_segment(), keeper).code == "N-00042"


def test_open_notes_come_first_then_the_newest(keeper):
    mat = make_mat()
    done, old, new = (note_on(mat, keeper, noted_on=ON - timedelta(days=days)) for days in (0, 9, 1))
    finish_note(done, by=keeper, on=ON)
    assert notes_of(mat) == [new, old, done]


def test_what_is_done_may_be_open_after_all_and_the_trail_says_so(keeper):
    mat = make_mat()
    note = finish_note(note_on(mat, keeper), by=keeper, on=ON)
    assert note.done_on == ON
    correct_note(note, by=keeper, on=ON, done_on=None, reason="the other side", text="drops on the right side")
    newest, *_ = trail_of_mat(mat)
    assert (newest.what, newest.reason) == (f"Note {note}", "the other side")
    assert [change.new for change in newest.changes] == ["drops on the right side", None]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"noted_on": ON + timedelta(days=1)}, "after today"),
        ({"done_on": ON + timedelta(days=1)}, "after today"),
        ({"done_on": ON - timedelta(days=1)}, "done before that"),
        ({"text": ""}, "cannot be blank"),
        ({"text": "one\ntwo"}, "a line break"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(keeper, values, said):
    note = note_on(make_mat(), keeper)
    with pytest.raises(ValidationError, match=said) as refused:
        correct_note(note, by=keeper, on=ON, **values)
    assert list(refused.value.error_dict) == list(values)


def test_the_database_keeps_a_note_to_one_thing_and_one_order_of_days():
    mat, segment, event = make_mat(), make_segment(), make_event()
    wrong = [
        {"mat": mat, "segment": segment},
        {"mat": mat, "event": event},
        {"mat": None},
        {"mat": None, "segment": segment},
        {"text": ""},
        {"done_on": date(2026, 5, 1)},
    ]
    for values in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            Note.objects.create(
                **{"code": "N-1", "about": "mat", "mat": mat, "text": "x", "noted_on": date(2026, 5, 2)} | values
            )
