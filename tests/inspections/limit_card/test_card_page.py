"""The page of the card: plain words, one sheet, and nothing of any customer."""

from datetime import date
from html import unescape

import pytest
from django.utils import timezone
from factories import make_depot, make_event, make_usage_event
from page_words import words_in
from worn_pools import make_pool

from fleet.models import CableSegment, CableType, Depot, Event, Mat, MatDesign
from inspections.limit_card import services

pytestmark = pytest.mark.django_db
ON = date(2026, 10, 1)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)


def shown(client):
    page = client.get("/lives/card/")
    assert page.status_code == 200
    return words_in(unescape(page.content.decode()))


def test_a_pool_without_a_card_is_told_what_to_measure(visitor_client):
    text = shown(visitor_client)
    assert "No card can be made yet." in text
    assert "ten cables that were read whether or not anybody suspected them" in text


def test_limits_evidence_end_and_cautions_stand_on_it(visitor_client):
    make_pool(mats=12, rate_db=0.9, seed=11)
    text = shown(visitor_client)
    assert "Change each cable at its limit, or before. By then at most 5 % of such cables lose half" in text
    assert "0.60 m 1 year 10 months*" in text
    assert "Of cables above 2.10 m this card says nothing." in text
    assert "240 readings of 48 cables in one pool, from December 2024 to August 2026." in text
    assert "No limit goes further than ten cables of that length or longer were watched: at most 1 year 10" in text
    assert "* Here watching ended" in text
    assert "A limit is no check." in text
    assert "local regulations and licensed practice take precedence" in text


def test_it_names_nothing_of_any_customer(visitor_client):
    mats = make_pool(mats=12, rate_db=0.9, seed=11, depot=make_depot("Quay Street"))
    Mat.objects.update(owner="Fenmark Harriers")
    event = make_event(ON, name="Mill Lane half", place="Lower Mill")
    make_usage_event(mats[0], event)
    text = shown(visitor_client)
    assert "Made 1 Oct 2026" in text
    for kind, names in [
        (Mat, ("number", "owner")),
        (MatDesign, ("code",)),
        (CableSegment, ("serial",)),
        (CableType, ("name",)),
        (Depot, ("name",)),
        (Event, ("code", "name", "place")),
    ]:
        values = set(kind.objects.values_list(*names).distinct())
        assert values
        for value in {each for row in values for each in row if each}:
            assert value not in text


def test_a_trend_that_checks_speak_against_gives_no_numbers(visitor_client, monkeypatch):
    make_pool(mats=12, rate_db=0.9, seed=11)
    right = services.limit_card(ON).agreement
    wrong = right.__class__(48, 3.0, 2.0, 4.0, 5.0, 1.0, 0.001)
    monkeypatch.setattr(services, "agrees", lambda *_: wrong)
    text = shown(visitor_client)
    assert "No card is made: the limits would not be true." in text
    assert "cables went over 3 times as often as it says" in text
    assert "months" not in text
