"""Two keepers at the page of one file at once: nothing that was typed is lost, and nothing is stored twice."""

import threading
from dataclasses import replace
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from fleet.models import Load, Mat
from fleet.parsing.day_orders import DayOrder
from inspections.files.uploads import store_upload
from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.made.made import CHANGED, make, store_made
from inspections.own_sheets.made.mending import Said, keep_said, waiting_said
from inspections.own_sheets.waiting_sheets import keep_waiting_meanings, waiting_workbook

pytestmark = pytest.mark.django_db(transaction=True)
ON = date(2026, 11, 24)
LIST = "Mat;Build;Depot;Bought\n1;2m/4;Shed;2019\n2;2m/4;Shed;some day\n3;2m/4;Shed;long ago\n"


@pytest.fixture
def waiting():
    """The hash under which a list of three mats waits, whose columns mean what the app proposes."""
    file_hash = store_upload([SimpleUploadedFile("mats of ours.csv", LIST.encode())]).file_hash
    meanings = propose(waiting_workbook(file_hash), {}, KnownCodes())
    keep_waiting_meanings(file_hash, [replace(meaning, day_order=DayOrder.DAY_FIRST) for meaning in meanings])
    return file_hash


def at_once(*acts):
    """What each act came to, or the sentence that refused it; all begin at the same moment."""
    outcomes, begin = [], threading.Barrier(len(acts))

    def run(act):
        begin.wait()
        try:
            outcomes.append(act())
        except ValidationError as refused:
            outcomes.append(refused.messages[0])
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[act]) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


def test_what_two_people_mend_at_once_is_both_kept(waiting):
    sheet = waiting_workbook(waiting).sheets[0].name
    places = [(sheet, row, 3) for row in (2, 3)]

    def mend(place):
        return lambda: keep_said(waiting, lambda said: Said({**said.cells, place: "2020"}))

    at_once(*map(mend, places))
    assert set(waiting_said(waiting).cells) == set(places)


def test_what_two_people_store_at_once_is_stored_once(waiting):
    seen = make(waiting, on=ON).mark
    outcomes = at_once(*[lambda: store_made(waiting, seen=seen, by=None, on=ON)] * 2)
    load = Load.objects.get()
    assert sorted(outcomes, key=str) == sorted([load, CHANGED], key=str)
    assert Mat.objects.count() == 3
