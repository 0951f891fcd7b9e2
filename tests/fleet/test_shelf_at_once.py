"""Two people at the shelf at once: no cable is taken twice, and no two entries have one number."""

import threading

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from factories import make_cable_type, make_depot, make_person, make_pile
from invariant_shelf import ledger_counts_right

from fleet.models import CableSegment, StockEntry
from fleet.services.arrivals import Arrival
from fleet.services.register import add_segment
from fleet.services.shelf import lie_there, receive_cables, scrap_cables

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def acts(today):
    return {"by": make_person(), "on": today}


@pytest.fixture
def pile():
    return make_pile(make_cable_type("thin"), 0.6, make_depot("Quay"), 1)


def at_once(*acts):
    """The refusal of each, or None; an error that is none fails."""
    raised, start = [None] * len(acts), threading.Barrier(len(acts))

    def run(number, act):
        start.wait()
        try:
            act()
        except ValidationError as refusal:
            raised[number] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=each) for each in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


def test_of_two_who_take_the_last_one_one_is_refused(pile, acts, today):
    def scrap():
        scrap_cables(pile, 1, day=today, reason="crushed", **acts)

    raised = at_once(scrap, scrap)
    assert sum(refusal is not None for refusal in raised) == 1
    assert lie_there(pile) == 0


def test_of_two_who_give_it_a_serial_one_is_refused(pile, acts):
    def add(serial):
        kind = {"cable_type": pile.cable_type, "length_m": 0.6, "arrival": Arrival(counted=True)}
        return lambda: add_segment(serial=serial, **kind, **acts)

    raised = at_once(add("C-1"), add("C-2"))
    assert sum(refusal is not None for refusal in raised) == 1
    assert CableSegment.objects.count() == 1 and lie_there(pile) == 0


def test_what_three_receive_at_once_is_all_there(pile, acts, today):
    def receive():
        receive_cables(pile, 5, day=today, **acts)

    assert at_once(receive, receive, receive) == [None] * 3
    assert lie_there(pile) == 16
    assert sorted(StockEntry.objects.values_list("number", flat=True)) == [1, 2, 3, 4]
    assert not list(ledger_counts_right(today))
