"""Refused for somebody else's act at the same moment, a page does again what it was asked, and nobody hears of it."""

import time
from threading import Thread

import pytest
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.messages import get_messages
from django.db import IntegrityError, connection, transaction
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import path
from factories import make_depot, make_mat, make_person
from page_forms import form_in

from fleet.models import Depot, Fault, Mat
from inspections.assessment.services import assess_pool
from inspections.models import PoolState
from inspections.project import again

TRIES = []


@login_not_required
def late(request, name):
    """Somebody else's depot of that name is there after the look, as often as the test says."""
    TRIES.append(name)
    with transaction.atomic():
        messages.success(request, f"{name} is added.")
        if len(TRIES) <= int(request.GET["late"]):
            Depot.objects.create(name="Quay Street")
        Depot.objects.create(name=name)
    return HttpResponse(" ".join(str(said) for said in get_messages(request)))


urlpatterns = [path("late/<name>/", late)]


@pytest.fixture
def depot(db):
    TRIES.clear()
    return make_depot("Quay Street")


@override_settings(ROOT_URLCONF=__name__)
def test_a_view_that_met_another_act_is_run_again_and_says_what_it_did_once(depot):
    answer = Client().get("/late/Mill/?late=2")
    assert answer.content.decode() == "Mill is added."
    assert (len(TRIES), Depot.objects.filter(name="Mill").count()) == (3, 1)


@override_settings(ROOT_URLCONF=__name__)
def test_one_that_fails_every_time_is_no_accident(depot, monkeypatch):
    monkeypatch.setattr(again, "PAUSES_S", (0, 0, 0))
    with pytest.raises(IntegrityError):
        Client().get("/late/Mill/?late=9")
    assert (len(TRIES), Depot.objects.filter(name="Mill").count()) == (4, 0)


@pytest.mark.skipif("not os.environ.get('DATABASE_URL', '').startswith('postgres')", reason="SQLite knows no deadlock")
@pytest.mark.django_db(transaction=True)
def test_a_deadlock_is_not_seen_by_who_met_it(today):
    """Another program holds the count of changes and then wants the mat, which the page holds by then."""
    person, mat = make_person(), make_mat("M-1")
    client = Client()
    client.force_login(person)
    place, answers = "/mats/M-1/faults/report/", []
    form = form_in(client.get(place)) | {"place": "whole mat", "reported_on": today}

    def report():
        # the page looks for a deadlock long before the other program does, however slow the machine
        _look_for_deadlocks_after("3s")
        answers.append(client.post(place, form))
        connection.close()

    page = Thread(target=report)
    assess_pool(today)
    with transaction.atomic():
        _look_for_deadlocks_after("60s")
        PoolState.objects.update(assessed_on=today)
        page.start()
        while page.is_alive() and not _somebody_waits():
            time.sleep(0.01)
        Mat.objects.select_for_update().get(pk=mat.pk)
    page.join()
    assert (answers[0].status_code, Fault.objects.count()) == (302, 1)


def _look_for_deadlocks_after(time_waited):
    with connection.cursor() as cursor:
        # in a transaction for as long as it lasts
        cursor.execute("SELECT set_config('deadlock_timeout', %s, %s)", [time_waited, connection.in_atomic_block])


def _somebody_waits():
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
        return cursor.fetchone()[0] > 0
