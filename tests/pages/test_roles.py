"""Each role at every address: what it may do, what is refused with a sentence, and what the pages offer it."""

import html
import re
from datetime import timedelta

import pytest
from addresses import CLOSED, address, make_examples
from conftest import signed_in
from django.contrib.auth.models import User
from django.db import transaction
from django.urls import resolve
from factories import (
    fit,
    make_event,
    make_fault,
    make_mat,
    make_person,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
)
from fuzz_pages import Page

from fleet.access import ACTS, KEEP, ROLES
from fleet.models import Fault
from inspections.assessment.services import assess_pool

# who may do what is told by Django's own permissions; other walks go over every address on both databases
pytestmark = [pytest.mark.django_db, pytest.mark.alike]
RANKS = list(ROLES)

# The least role that may open an address, or send to it. What is not named here, everybody who is signed in may read.
LEAST = {
    "log": [
        *("event-log", "event-answer", "usage-call-off", "fault-report", "fault-end"),
        *("mat-note-add", "segment-note-add", "event-note-add", "note-done"),
    ],
    "bench hand": [
        *("bench", "bench-mat", "bench-verdicts", "bench-move", "reading-void", "reading-doubtful"),
        *("segment-add", "fit", "take-out", "work-order-raise", "work-order-raise-all"),
        *("mat-change", "mat-change-verdicts", "fitting-delete", "work-order-done", "work-order-give"),
    ],
    "keeper": [
        *("work-order-renew", "work-order-withdraw"),
        *("event-add", "event-correct", "usage-correct", "event-repeat", "event-rest", "series-end", "loan-back"),
        *("mat-add", "mat-correct", "mat-withdraw", "segment-correct", "segment-withdraw", "fitting-correct"),
        *("fitting-days", "mat-months", "usual-use"),
        *("design-add", "design-correct", "design-withdraw", "position-add", "position-correct", "position-delete"),
        *("cable-type-add", "cable-type-correct", "cable-type-withdraw", "depot-add", "depot-correct"),
        *("depot-withdraw", "instrument-add", "instrument-correct", "instrument-withdraw", "fault-correct"),
        *("people", "person-add", "person", "person-role", "person-password", "person-deactivate"),
        *("person-reactivate", "start", "renamed-codes-seen", "assess-again"),
        *("note-correct", "files-export", "files-waiting", "files-leave"),
        *("mat-delete", "segment-delete", "event-delete"),
    ],
}
# pages that everybody may read, and not everybody may send
LEAST_TO_SEND = {"policy": "keeper", "policy-design": "keeper", "files": "keeper"}
OF = {name: role for role, names in LEAST.items() for name in names}
# what everybody may send: it concerns their own account, or nothing is kept
ANYBODY = {"sign-out", "own-password"}
# what goes on beside the request, in a thread or a file
BESIDE = {"assess-again", "files-export"}


def may(role, name, method):
    least = (method == "post" and LEAST_TO_SEND.get(name)) or OF.get(name, "visitor")
    return RANKS.index(role) >= RANKS.index(least)


@pytest.fixture(scope="module")
def pool(shared_rows):
    """The examples, and what a page offers acts for: events of every kind, faults of every kind, readings, spares."""
    with shared_rows(fill) as made:
        yield made


def fill():
    from django.utils import timezone

    examples, today = make_examples(), timezone.localdate()
    mat = make_mat("M-902", fitted=True)
    for code, start, days, going in [
        ("OVER", -3, 1, {"state": "planned"}),
        ("WENT", -5, 1, {"state": "went"}),
        ("RUNS", -1, 3, {"state": "planned"}),
        ("AHEAD", 9, 1, {"state": "planned"}),
        ("LOAN", -60, 40, {"state": "planned", "counts_for": 4}),
        ("OUT", -90, 120, {"state": "planned"}),
    ]:
        make_usage_event(mat, make_event(today + timedelta(days=start), days, code=code), **going)
    weekly = make_event(today + timedelta(days=2), code="WEEKLY", series=make_series(today + timedelta(days=2)))
    make_usage_event(mat, weekly, state="planned")
    wet = make_fault(mat, "whole mat", None, today, what="wet")
    make_segment(0.6, "A-SPARE")
    make_mat("M-903")
    fit(make_segment(0.6), make_mat("M-904"), 1, today - timedelta(days=9), fitted_basis="not later than")
    make_reading(mat.fittings.get(position=2).segment, 2.9, today, doubt_reason="loose lead")
    for name in ("ottilie", "gone"):
        make_person(name, role="visitor")
    User.objects.filter(username="gone").update(is_active=False)
    assess_pool(today)
    # of which every role that may answer or close something may do so
    return examples | {("events", "code"): "OVER", "number": mat.number, ("faults", "pk"): wet.pk}


@pytest.fixture
def people(pool, keeper, bench_hand, log_hand, visitor):
    return {role: signed_in(who) for role, who in zip(RANKS, (visitor, log_hand, bench_hand, keeper), strict=True)}


def ask(client, method, place, data=None):
    """The answer; whatever was done is taken back."""
    with transaction.atomic():
        answer = getattr(client, method)(place, data or {})
        transaction.set_rollback(True)
    return answer


def words(answer):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", "", answer.content.decode())))


def test_the_table_names_addresses_that_are_there():
    assert {*OF, *LEAST_TO_SEND} <= {name for name, _ in CLOSED}


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("role", RANKS)
def test_each_role_may_do_what_the_table_says_at_every_address(people, pool, role, method):
    wrong = []
    for name, route in CLOSED:
        if name in ANYBODY or (role == KEEP and name in BESIDE):
            continue
        answer = ask(people[role], method, address(route, pool))
        allowed = may(role, name, method)
        if allowed != (answer.status_code != 403):
            wrong.append((name, answer.status_code))
        if not allowed and not names_who_may(answer, name, method):
            wrong.append((name, words(answer)))
    assert wrong == []


def names_who_may(answer, name, method):
    """The page of the refusal names every role that may, and none that may not."""
    said = re.search(r"This is for the roles? ([^.]+)\.", words(answer))
    roles = said and re.split(r", | and ", said[1])
    return roles == [role for role in RANKS if may(role, name, method)]


# --- acts that share an address with an act of another role: (address, what is sent, the least role)

NEW_EVENT = {"event": "new", "name": "Hill run", "mats": ["M-902"], "act": "log"}
PARTS = [
    ("/events/OVER/answer/", {"state": "went"}, "log"),
    ("/events/OVER/answer/", {"state": "called off"}, "keeper"),
    ("/events/AHEAD/answer/", {"state": "called off"}, "keeper"),
    ("/events/LOAN/answer/", {"state": "went"}, "keeper"),
    ("/events/OVER/mats/M-902/call-off/", {}, "log"),
    ("/events/RUNS/mats/M-902/call-off/", {}, "log"),
    ("/events/AHEAD/mats/M-902/call-off/", {}, "keeper"),
    ("/events/log/", NEW_EVENT, "log"),
    ("/events/log/", NEW_EVENT | {"only_planned": "on"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"until": "2030-01-01"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"counts_for": "9"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"basis": "assumed"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"event": "WENT"}, "log"),
    ("/events/log/", NEW_EVENT | {"event": "AHEAD"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"event": "RUNS"}, "keeper"),
    ("/events/log/", NEW_EVENT | {"event": "LOAN"}, "keeper"),
    ("/faults/WET/end/", {"end_reason": "dried"}, "log"),
    ("/faults/WET/end/", {"end_reason": "repair"}, "bench hand"),
    ("/faults/TORN/end/", {"end_reason": "dried"}, "bench hand"),
    ("/faults/TORN/end/", {"end_reason": "repair"}, "bench hand"),
]


@pytest.mark.parametrize(("place", "sent", "least"), PARTS)
def test_of_one_address_each_role_may_do_its_part(people, place, sent, least):
    faults = {"WET": "whole mat", "TORN": "cable"}
    place = re.sub("WET|TORN", lambda found: str(Fault.objects.filter(place=faults[found[0]]).get().pk), place)
    refused = [role for role in RANKS if ask(people[role], "post", place, sent).status_code == 403]
    assert refused == RANKS[: RANKS.index(least)]


def test_asking_to_call_off_for_everybody_is_the_keepers(people):
    asked = [ask(people[role], "get", "/events/OVER/answer/?state=called+off").status_code for role in RANKS]
    assert asked == [403, 403, 403, 200]


# --- what pages offer


@pytest.fixture
def offered(people):
    def offered(role):
        """(names of the addresses that pages lead this role to, what was refused there)."""
        # the list of cables first: of those that it leads to the spare is the first
        client, seen, waiting, refused = people[role], {}, ["/cables/", "/"], []
        while waiting:
            place = waiting.pop(0)
            name = kind_of(place)
            if len(seen.setdefault(name, [])) >= MOST_OF_A_KIND.get(name, 2) or place in seen[name]:
                continue
            seen[name].append(place)
            if name in BESIDE:
                continue
            answer = ask(client, "get", place)
            if answer.status_code == 403:
                refused.append(place)
            if answer["Content-Type"].startswith("text/html"):
                waiting += follow(client, place, answer, seen, refused)
        return seen, refused

    return offered


# how many pages of a kind are opened, where two do not show all there is
MOST_OF_A_KIND = {"event-detail": 9, "mats/<code:number>/": 3, "design-detail": 3, "person": 6, "event-answer": 4}


def kind_of(place):
    """The name of an address, or its pattern where it has none."""
    match = resolve(place.partition("?")[0])
    return match.url_name or match.route


def follow(client, place, answer, seen, refused):
    """Send every form as it stands, with each of its buttons; returns where the page leads."""
    page = Page(place, answer.content.decode())
    for form in page.forms:
        name = kind_of(form.action)
        if form.method != "post" or name in {"sign-out", *BESIDE}:
            continue
        seen.setdefault(name, [])
        for button in form.buttons or [("", "")]:
            pressed = seen.setdefault((name, button), [])
            pressed.append(form.action)
            if len(pressed) > MOST_OF_A_KIND.get(name, 2):
                continue
            if ask(client, "post", form.action, dict([*form.held, button])).status_code == 403:
                refused.append((place, form.action, button))
    return page.links


# addresses that no link leads to: asked by a part of a page, or led to after an act
NOT_OFFERED = {"bench-verdicts", "renamed-codes-seen", "files-waiting", "files-leave", "assess-again", "start"}


@pytest.mark.parametrize("role", RANKS)
def test_pages_offer_what_a_role_may_do_and_nothing_that_is_refused(offered, role):
    seen, refused = offered(role)
    assert refused == []
    acts = {name for name in {*OF, *LEAST_TO_SEND} if may(role, name, "post")} - NOT_OFFERED
    assert acts - set(seen) == set()


def test_a_refusal_says_what_the_account_may_do_instead(people):
    page = words(ask(people["log"], "get", "/bench/"))
    assert "This is for the roles bench hand and keeper. Nothing was changed." in page
    assert "You are signed in as logger, in the role log." in page
    assert ACTS["log"] in page and ACTS["bench hand"] not in page
