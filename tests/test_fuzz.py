"""Whatever is sent is answered, tried small and on the database in use; `fuzz.py` says how to try it at length."""

import pytest
from factories import make_mat
from fuzz import Fuzz
from fuzz_browser import Answer, InProcess
from fuzz_judge import Judge, leads_elsewhere
from fuzz_pages import Page
from fuzz_pool import fill, state_of, watched
from fuzz_values import ATTRIBUTE, ELSEWHERE, MARKUP

from fleet.models import Mat

REQUESTS = 60
PAGE = {"Content-Type": "text/html; charset=utf-8"}


@pytest.mark.django_db
def test_hostile_requests_of_every_role_are_answered_and_break_no_rule(today):
    fill(today)
    fuzz = Fuzz(InProcess(), today, seed=7)
    fuzz.run(REQUESTS)
    print(fuzz.report())
    assert fuzz.counts["hostile"] >= REQUESTS
    assert fuzz.counts["acts"] > 10
    assert len(fuzz.shapes) > 60
    assert fuzz.judge.found == {}


def judged(status=200, body="", log=(), left="", seconds=0.0, signed_in=True, **headers):
    judge = Judge()
    answer = Answer(status, PAGE | headers, body.encode(), seconds, list(log), left)
    judge.answered(answer, "/mats/?find=x", "cause", signed_in=signed_in)
    return list(judge.found)


TRACEBACK = "ERROR django.request: failed\nTraceback (most recent call last):\n  File\nValueError: no number"


@pytest.mark.parametrize(
    ("answer", "found"),
    [
        ({"status": 500, "log": [TRACEBACK]}, ["server error", "traceback"]),
        ({"status": 599, "left": "Traceback\nLookupError: hex"}, ["server error"]),
        ({"log": [TRACEBACK]}, ["traceback"]),
        ({"log": ["a line", "another"]}, ["more than one line in the log"]),
        ({"body": f"<p>{MARKUP}</p>"}, ["markup"]),
        ({"body": f'<input value="{ATTRIBUTE}">'}, ["markup"]),
        ({"status": 302, "Location": "//evil.example/"}, ["leads elsewhere"]),
        ({"signed_in": False}, ["open to nobody"]),
        ({"seconds": 9}, ["slow"]),
        ({"body": "&lt;zq7 onload=x&gt;", "log": ["one line"]}, []),
        ({"signed_in": False, "body": '<input name="username">'}, []),
        ({"status": 302, "signed_in": False, "Location": "/sign-in/?next=//evil.example/"}, []),
    ],
)
def test_what_is_wrong_with_an_answer_is_found(answer, found):
    assert [kind for kind, _ in judged(**answer)] == found


@pytest.mark.parametrize("where", ELSEWHERE)
def test_redirects_that_lead_elsewhere_are_known(where):
    assert leads_elsewhere(where)


@pytest.mark.parametrize("where", ["", "/", "/mats/?next=//evil.example/", "2026", "?page=2"])
def test_redirects_that_stay_are_known(where):
    assert not leads_elsewhere(where)


@pytest.mark.django_db
def test_a_change_by_somebody_who_may_not_is_found(visitor, keeper):
    def changed(act):
        judge, before = Judge(), state_of(watched())
        act()
        judge.changed(before, state_of(watched()), "visitor", visitor.username, "cause")
        return [what for _, what in judge.found]

    assert changed(lambda: None) == []
    assert changed(lambda: visitor.set_password("other-words-8") or visitor.save()) == []
    assert changed(lambda: keeper.set_password("other-words-8") or keeper.save()) == ["by visitor: User"]
    assert changed(make_mat) == ["by visitor: CableType, DesignPosition, Mat, MatDesign"]
    assert changed(lambda: Mat.objects.update(version=2)) == ["by visitor: Mat"]


def test_a_page_is_read_with_its_links_and_forms():
    page = Page(
        "/mats/M-1/",
        """<a href="fit/?x=1#top">a</a><a href="https://elsewhere.example/">b</a><a href="#here">c</a>
        <form method="post" id="f"><input name="token" type="hidden" value="t"><textarea name="steps">
one</textarea><select name="kind"><option value="a">A<option value="b" selected>B</select>
        <input type="radio" name="goes" value="away"><input type="radio" name="goes" value="shelf" checked>
        <input name="segment" list="spares"><button name="act" value="log">Log</button></form>
        <datalist id="spares"><option value="S-1"></datalist><input name="late" form="f" type="file">
        <form action="https://elsewhere.example/"></form>""",
    )
    (form,) = page.forms
    assert page.links == ["/mats/M-1/fit/?x=1", "/mats/M-1/"]
    assert (form.method, form.action, form.buttons) == ("post", "/mats/M-1/", [("act", "log")])
    held = {each.name: (each.kind, each.value, each.values) for each in form.fields.values()}
    assert held == {
        "token": ("hidden", "t", []),
        "steps": ("textarea", "one", []),
        "kind": ("select", "b", ["a", "b"]),
        "goes": ("radio", "shelf", ["away", "shelf"]),
        "segment": ("text", "", ["S-1"]),
        "late": ("file", "", []),
    }
