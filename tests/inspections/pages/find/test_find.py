"""One search box for everything that has a code."""

from datetime import date

import pytest
from django.urls import reverse
from factories import make_event, make_mat, make_note, make_segment

from inspections.models import WorkOrder


@pytest.fixture
def pool(db):
    mat = make_mat("M-017")
    make_mat("M-0170")
    make_segment(serial="C-00123")
    make_event(date(2026, 5, 2), code="E-2026-09", name="Quay Street night run")
    WorkOrder.objects.create(number="W-2026-001", mat=mat, raised_on=date(2026, 5, 3))


def find(client, text):
    return client.get(reverse("inspections:find"), {"q": text})


@pytest.mark.parametrize(
    ("text", "name", "code"),
    [
        ("m-017", "fleet:mat-detail", "M-017"),
        (" C-00123 ", "fleet:segment-detail", "C-00123"),
        ("e-2026-09", "fleet:event-detail", "E-2026-09"),
        ("w-2026-001", "inspections:work-order-detail", "W-2026-001"),
    ],
)
def test_a_code_in_full_leads_straight_to_its_page(pool, visitor_client, text, name, code):
    assert find(visitor_client, text).url == reverse(name, args=[code])


def test_part_of_a_code_lists_what_has_it(pool, visitor_client):
    found = find(visitor_client, "-017").context["found"]
    assert [str(mat) for mat in found.mats] == ["M-017", "M-0170"]
    assert (found.segments, found.events, found.work_orders) == ([], [], [])


def test_an_event_is_found_by_a_word_of_its_name(pool, visitor_client):
    found = find(visitor_client, "NIGHT").context["found"]
    assert [event.code for event in found.events] == ["E-2026-09"]


def test_a_note_is_found_by_a_word_of_it_and_leads_to_what_it_is_about(pool, visitor_client):
    note = make_note(make_event(code="E-9", name="Bank run"), "gate by the RIVER", code="N-00007")
    make_note(make_segment(), "nut is tight")
    answer = find(visitor_client, "river")
    assert answer.context["found"].notes == [note]
    assert 'href="/events/E-9/#notes"' in answer.content.decode() and "on Bank run" in answer.content.decode()
    assert find(visitor_client, "n-00007").url == "/events/E-9/#notes"


def test_two_things_of_the_same_code_are_both_listed(visitor_client):
    make_mat("A-1")
    make_segment(serial="a-1")
    found = find(visitor_client, "A-1").context["found"]
    assert ([str(mat) for mat in found.mats], [str(cable) for cable in found.segments]) == (["A-1"], ["a-1"])


def test_nothing_found_says_so_and_shows_what_was_typed_as_text(pool, visitor_client):
    answer = find(visitor_client, "<b>x' ")
    assert answer.status_code == 200
    assert "Nothing has “&lt;b&gt;x&#x27;”" in answer.content.decode()


def test_an_empty_search_asks_for_a_word(visitor_client):
    assert "Type a mat number" in find(visitor_client, " ").content.decode()


def test_a_mat_with_a_strange_number_is_found_and_shown(visitor_client):
    make_mat("Bühne 7 % #?&'")
    answer = visitor_client.get(find(visitor_client, "bühne 7 % #?&'").url)
    assert answer.status_code == 200


def test_many_hits_are_cut_off_and_said_to_be(visitor_client):
    for number in range(35):
        make_segment(serial=f"K-{number:03d}")
    answer = find(visitor_client, "k-")
    assert len(answer.context["found"].segments) == 30
    assert "The first 30 hits for “k-”: there are more." in answer.content.decode()
