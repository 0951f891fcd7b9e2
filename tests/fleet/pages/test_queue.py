"""What a phone asks for to log without signal, and to send later."""

import json
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_event, make_mat, make_segment, make_usage_event

from fleet.models import Pool

pytestmark = pytest.mark.django_db
READY = "/events/log/ready/"


def ready(client):
    return client.get(f"{READY}?keep").json()


def test_a_phone_hears_as_whom_and_to_which_pool_it_may_send(log_client, log_hand):
    said = ready(log_client)
    assert (said["pool"], said["account"]) == (str(Pool.objects.get().uid), str(log_hand.pk))
    assert set(log_client.get(READY).json()) == {"pool", "account", "token"}
    assert log_client.get(READY)["Cache-Control"] == "no-store"


def test_it_hears_the_mats_in_use_and_the_events_around_with_their_mats(log_client, today):
    design = make_mat("4").design
    make_mat("9", design=design, withdrawn_on=today - timedelta(days=9), withdrawal_reason="torn")
    past, far = make_event(today - timedelta(days=1), name="Hill run"), make_event(today - timedelta(days=99))
    ahead = make_event(today + timedelta(days=3))
    make_usage_event(make_mat("8", design=design), past, state="planned")
    said = ready(log_client)
    assert [mat[:2] for depot in said["depots"] for mat in depot["mats"]] == [["4", "4"], ["8", "8"]]
    assert [mat[2] for depot in said["depots"] for mat in depot["mats"]] == ["4 empty positions"] * 2
    assert [(event["code"], event["planned"]) for event in said["events"]] == [(past.code, ["8"]), (ahead.code, [])]
    assert far.code not in str(said)


def test_it_hears_what_is_in_doubt_of_mats_that_may_go(log_client, today):
    mat, day = make_mat("K-9"), today - timedelta(days=90)
    for position in range(1, 5):
        fit(make_segment(), mat, position, day, fitted_basis="not later than")
    ((number, _, unfit, doubt),) = [mat for depot in ready(log_client)["depots"] for mat in depot["mats"]]
    assert (number, unfit, doubt) == ("K-9", "", "4 unknown")


def test_loans_are_for_those_who_plan(log_client, keeper_client, today):
    loan = make_event(today - timedelta(days=20), 18)
    make_usage_event(make_mat("4"), loan, state="planned", counts_for=4)
    assert [event["code"] for event in ready(keeper_client)["events"]] == [loan.code]
    assert ready(log_client)["events"] == []


def test_queries_do_not_grow_with_mats_or_events(log_client, today):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            ready(log_client)
        return len(queries)

    design = make_mat("1").design
    make_usage_event(make_mat("2", design=design), make_event(today, code="E-0"), state="planned")
    # the first of the day assesses
    asked()
    few = asked()
    for number in range(3, 9):
        make_usage_event(make_mat(str(number), design=design), make_event(today, code=f"E-{number}"), state="planned")
    assert asked() == few


def test_the_page_for_want_of_signal_is_the_same_for_everybody_and_names_nobody(log_client, log_hand, keeper_client):
    shell = log_client.get("/events/log/shell/").content.decode()
    assert shell == keeper_client.get("/events/log/shell/").content.decode()
    for named in (log_hand.username, "csrfmiddlewaretoken", str(Pool.objects.get().uid), "<nav"):
        assert named not in shell


def test_its_worker_is_asked_for_each_time_and_keeps_all_that_the_page_needs(log_client):
    worker, shell = log_client.get("/events/log/worker.js"), log_client.get("/events/log/shell/").content.decode()
    kept = json.loads(re.search(r"const KEPT = (.*);", worker.content.decode())[1])
    assert (worker["Content-Type"], worker["Cache-Control"]) == ("text/javascript", "no-cache, no-store")
    assert set(kept["files"]) == set(re.findall(r'="(/static/[^"]+)"', shell))
    assert kept["shell"] == "/events/log/shell/"


def test_the_name_of_what_it_keeps_changes_with_any_of_it(log_client, monkeypatch):
    from fleet.views import queue

    before = log_client.get("/events/log/worker.js").content
    assert log_client.get("/events/log/worker.js").content == before
    monkeypatch.setattr(queue, "_shell", lambda shell=queue._shell: shell() + " ")
    assert log_client.get("/events/log/worker.js").content != before
