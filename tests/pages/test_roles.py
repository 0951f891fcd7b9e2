"""Each role at every address: what it may do, what is refused with a sentence, and what the pages offer it."""

import html
import re
from datetime import timedelta

import pytest
from access_table import ACCESS, NONE, READS, ROUTES, SENDS, guarded, least
from addresses import FILES_OUT, address, make_examples
from conftest import signed_in
from django.contrib.auth.models import User
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
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

from fleet.access import ACTS, KEEP, LOOK, ROLES
from fleet.models import Fault
from inspections.assessment.services import assess_pool

# who may do what is told by Django's own permissions; other walks go over every address on both databases
pytestmark = [pytest.mark.django_db, pytest.mark.alike]
RANKS = list(ROLES)

# what goes on beside the request, in a thread or a file
BESIDE = {"assess-again", "copy-download", *FILES_OUT}


def may(role, name, method):
    return RANKS.index(role) >= RANKS.index(least(name, method))


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
    wet = make_fault(mat, "wet", None, today)
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


def test_the_table_holds_every_address_once():
    assert sorted(name for names in ACCESS.values() for name in names) == sorted(ROUTES)


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("role", RANKS)
def test_each_role_may_do_what_the_table_says_at_every_address(people, pool, role, method):
    names = [name for name in ROUTES if name != "sign-out" and not (role == KEEP and name in BESIDE)]
    wrong = {}
    for name in names:
        with CaptureQueriesContext(connection) as asked:
            answer = ask(people[role], method.lower(), address(ROUTES[name], pool))
        if not judge(role, name, method, answer, written(asked)):
            wrong[name] = (answer.status_code, written(asked))
    assert wrong == {}


def judge(role, name, method, answer, writes):
    if may(role, name, method):
        return judge_allowed(role, name, method, answer, writes)
    return answer.status_code == 403 and names_who_may(answer, name, method) and not writes


def judge_allowed(role, name, method, answer, writes):
    """Not refused; where there is nothing to read that is said, and where there is no form nothing is stored."""
    if method == "POST":
        return answer.status_code != 403 and not (SENDS[name] is NONE and writes)
    return answer.status_code != 403 and (answer.status_code == 405) == (READS[name] is NONE)


def written(asked):
    return [query["sql"] for query in asked if re.match(r"(INSERT|UPDATE|DELETE|REPLACE)\b", query["sql"])]


def test_whoever_is_not_signed_in_is_sent_to_the_sign_in_page_from_every_address(keeper):
    wrong = []
    for name, route in ROUTES.items():
        for method in ("get", "head", "post"):
            place = address(route, {})
            answer = ask(Client(), method, place)
            if (answer.status_code, answer.headers.get("Location")) != (302, f"/sign-in/?next={place}"):
                wrong.append((name, method, answer.status_code))
    assert wrong == []


def test_nothing_is_sent_without_the_token_of_a_page_of_ours(pool, keeper):
    client = Client(enforce_csrf_checks=True)
    client.force_login(keeper)
    places = [address(route, pool) for route in ROUTES.values()]
    assert [place for place in places if ask(client, "post", place).status_code not in (403, 405)] == []


def test_who_may_not_read_may_not_ask_whether_it_is_there(people, pool):
    closed = [name for name in ROUTES if not may(LOOK, name, "GET")]
    answers = {name: ask(people[LOOK], "head", address(ROUTES[name], pool)).status_code for name in closed}
    assert set(answers.values()) == {403}


@pytest.mark.parametrize("caller", ["nobody", KEEP])
def test_there_are_no_other_ways_to_ask_at_any_address(people, pool, caller):
    client = Client() if caller == "nobody" else people[KEEP]
    answers = {
        (place, method): getattr(client, method)(place)
        for place in ["/sign-in/", "/first-account/", *(address(route, pool) for route in ROUTES.values())]
        for method in ("put", "patch", "delete", "options", "trace")
    }
    assert {(answer.status_code, answer["Allow"]) for answer in answers.values()} == {(405, "GET, HEAD, POST")}


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
    faults = {"WET": "wet", "TORN": "cable"}
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
MOST_OF_A_KIND = {"event-detail": 9, "mats/<code:number>/": 3, "design-detail": 3, "person": 7, "event-answer": 4}


def kind_of(place):
    """The name of an address, or its pattern where it has none."""
    match = resolve(place.partition("?")[0])
    return match.url_name or match.route


def follow(client, place, answer, seen, refused):
    """Send every form as it stands, with each of its buttons; returns where the page leads."""
    page = Page(place, answer.content.decode())
    for form in page.forms:
        name = kind_of(form.action)
        if form.method != "post" or name == "sign-out":
            continue
        seen.setdefault(name, [])
        if name in BESIDE:
            continue
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
# led to once a file was sent
NOT_OFFERED |= {"sheets-columns", "sheets-made"}
# where the trend tells a limit: length_limits/test_limits_page.py, test_using_limits.py
NOT_OFFERED |= {"length-limits-use"}
# about a copy that is there
NOT_OFFERED |= {"copy-restore", "copy-leave", "copies-elsewhere-now", "copies-elsewhere-stop"}
# by a script
NOT_OFFERED |= {"queue-ready", "queue-shell", "queue-worker", "sweep-drop-one"}


@pytest.mark.parametrize("role", RANKS)
def test_pages_offer_what_a_role_may_do_and_nothing_that_is_refused(offered, role):
    seen, refused = offered(role)
    assert refused == []
    acts = {name for name in ROUTES if guarded(name) and may(role, name, "POST")} - NOT_OFFERED
    assert acts - set(seen) == set()


def test_a_refusal_says_what_the_account_may_do_instead(people):
    page = words(ask(people["log"], "get", "/bench/"))
    assert "This is for the roles bench hand and keeper. Nothing was changed." in page
    assert "You are signed in as logger, in the role log." in page
    assert ACTS["log"] in page and ACTS["bench hand"] not in page
