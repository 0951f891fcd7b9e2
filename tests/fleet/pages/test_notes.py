"""Notes on the pages of a mat, a cable and an event."""

import html
import re
from datetime import timedelta

import pytest
from conftest import signed_in
from factories import make_event, make_mat, make_note, make_segment
from page_forms import form_in

from fleet.models import Note

pytestmark = pytest.mark.django_db


def words(answer):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", "", answer.content.decode())))


PAGES = [(make_mat, "M-1", "/mats/M-1/"), (make_segment, "C-1", "/cables/C-1/"), (make_event, "E-1", "/events/E-1/")]


def made(make, code, today):
    name = {make_mat: "number", make_segment: "serial", make_event: "code"}[make]
    return make(**{name: code})


@pytest.mark.parametrize(("make", "code", "page"), PAGES)
def test_who_logs_writes_a_note_in_two_inputs_and_it_stands_on_the_page(log_hand, visitor, today, make, code, page):
    made(make, code, today)
    client = signed_in(log_hand)
    assert f'href="{page}notes/add/"' in client.get(page).content.decode()
    typed = form_in(client.get(f"{page}notes/add/")) | {"text": "drops on the <left> side"}
    answer = client.post(f"{page}notes/add/", typed)
    assert answer.url == f"{page}#notes"
    shown = signed_in(visitor).get(page)
    assert "drops on the <left> side N-00001" in words(shown) and f"{today.day} {today:%b %Y}, logger" in words(shown)
    assert "notes/add/" not in shown.content.decode() and "/notes/N-00001/" not in shown.content.decode()


def test_the_same_note_sent_twice_is_written_once(keeper_client):
    make_mat("M-1")
    typed = form_in(keeper_client.get("/mats/M-1/notes/add/")) | {"text": "left side"}
    assert [keeper_client.post("/mats/M-1/notes/add/", typed).status_code for _ in range(2)] == [302, 302]
    assert Note.objects.count() == 1


def test_an_empty_note_is_refused_and_the_day_stays(keeper_client, today):
    make_mat("M-1")
    day = (today - timedelta(days=3)).isoformat()
    typed = form_in(keeper_client.get("/mats/M-1/notes/add/")) | {"noted_on": day}
    answer = keeper_client.post("/mats/M-1/notes/add/", typed)
    assert answer.status_code == 422 and form_in(answer)["noted_on"] == day


def test_one_tap_says_that_it_is_done(log_hand, today):
    note = make_note(make_mat("M-1"))
    client = signed_in(log_hand)
    client.post(f"/notes/{note}/done/", form_in(client.get("/mats/M-1/"), f"/notes/{note}/done/"))
    note.refresh_from_db()
    assert note.done_on == today
    page = client.get("/mats/M-1/")
    assert f"done {today.day} {today:%b %Y}" in words(page) and form_in(page, f"/notes/{note}/done/") == {}


def test_who_wrote_it_and_a_keeper_may_correct_it(log_hand, bench_hand, keeper_client):
    note = make_note(make_mat("M-1"), recorded_by=log_hand)
    place = f"/notes/{note}/correct/"
    assert [signed_in(who).get(place).status_code for who in (log_hand, bench_hand)] == [200, 403]
    assert place not in signed_in(bench_hand).get("/mats/M-1/").content.decode()
    assert place in signed_in(log_hand).get("/mats/M-1/").content.decode()
    answer = keeper_client.post(place, form_in(keeper_client.get(place)) | {"text": "on the right"})
    note.refresh_from_db()
    assert (answer.url, note.text) == ("/mats/M-1/#notes", "on the right")


def test_who_may_only_look_by_now_corrects_no_note_of_his_own(visitor):
    note = make_note(make_mat("M-1"), recorded_by=visitor)
    assert signed_in(visitor).get(f"/notes/{note}/correct/").status_code == 403
