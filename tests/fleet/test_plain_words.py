"""An older pool is brought up to date: what it said in the words of then stands in today's."""

from importlib import import_module

import pytest
from django.apps import apps
from factories import make_event, make_mat, make_usage_event

from fleet.models import Event, UsageEvent

pytestmark = pytest.mark.django_db
say_reported = import_module("fleet.migrations.0004_plain_words").say_reported


def test_use_that_was_told_is_reported_and_so_says_its_trail(keeper):
    rows = [make_usage_event(make_mat(), make_event(), basis=basis) for basis in ("reported", "assumed")]
    rows[0].correct(by=keeper, hours_out=3.0)
    for stored in (UsageEvent.objects, UsageEvent.history):
        stored.filter(basis="reported").update(basis="told")
    say_reported(apps, None)
    assert sorted(UsageEvent.objects.values_list("basis", flat=True)) == ["assumed", "reported"]
    assert set(UsageEvent.history.values_list("basis", flat=True)) == {"reported"}


def test_events_that_the_app_named_are_renamed_and_the_keepers_own_are_left():
    make_event(name="Usual use, as told at the start")
    make_event(name="Fen Half, told by Ida")
    say_reported(apps, None)
    names = set(Event.objects.values_list("name", flat=True))
    assert names == {"Usual use, as reported at the start", "Fen Half, told by Ida"}
