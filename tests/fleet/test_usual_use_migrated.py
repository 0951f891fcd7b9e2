"""An older pool is brought up to date: what *Start here* stored as reported is usual use, one a mat and month."""

from datetime import date
from importlib import import_module
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import connection, transaction
from factories import make_event, make_mat, make_usage_event

from fleet.models import Event, MatDay, UsageEvent
from fleet.selectors.trail import trail_of

pytestmark = pytest.mark.django_db
make_usual = import_module("fleet.migrations.0008_usual_use").make_usual
NAME = "Usual use, as reported at the start"


def migrate():
    make_usual(apps, SimpleNamespace(connection=connection))


def stored(mat, day, name=NAME, **values):
    """As *Start here* stored it."""
    event = Event.objects.filter(name=name, starts_on=day).first() or make_event(day, name=name)
    row = make_usage_event(mat, event, **{"basis": "reported"} | values)
    MatDay.objects.create(mat=mat, day=day, usage_event=row, planned=False)
    return row


def test_rows_of_the_start_are_usual_and_take_no_day():
    first, second = (stored(make_mat(), date(2026, 5, 3), counts_for=2) for _ in range(2))
    stored(first.mat, date(2026, 6, 2), name="Usual use, as told at the start")
    migrate()
    assert set(UsageEvent.objects.values_list("basis", "state", "counts_for")) == {
        ("usual", "went", 2),
        ("usual", "went", 1),
    }
    assert not MatDay.objects.exists()
    assert set(Event.objects.values_list("name", flat=True)) == {"Usual use"}
    assert second.event.usage_events.count() == 2


@pytest.mark.parametrize(
    "values", [{"name": "Fen Half"}, {"basis": "counted"}, {"basis": "assumed"}, {"state": "planned"}]
)
def test_what_is_not_of_the_start_or_was_made_another_stays(values):
    row = stored(make_mat(), date(2026, 5, 3), **values)
    before = UsageEvent.objects.values().get(), Event.objects.values().get()
    migrate()
    assert (UsageEvent.objects.values().get(), Event.objects.values().get()) == before
    assert row.days.count() == 1


def test_two_of_one_month_become_one_and_the_trail_says_so(keeper):
    mat, other = make_mat(), make_mat()
    first = stored(mat, date(2026, 5, 1), counts_for=4, recorded_by=keeper)
    second = stored(mat, date(2026, 5, 31), counts_for=3)
    stored(other, date(2026, 5, 31), counts_for=3)
    stored(mat, date(2026, 6, 30), counts_for=5)
    migrate()
    rows = mat.usage_events.order_by("event__starts_on").values_list("state", "counts_for", "basis")
    assert list(rows) == [("went", 7, "usual"), ("called off", 3, "usual"), ("went", 5, "usual")]
    assert list(other.usage_events.values_list("state", "counts_for")) == [("went", 3)]
    for row, change in ((first, ("4", "7")), (second, ("went", "called off"))):
        row.refresh_from_db()
        newest, entered = trail_of(row)
        assert [(each.old, each.new) for each in newest.changes] == [change]
        assert (newest.reason, row.version) == ("two of one month became one", 2)
        assert entered.what == "entered"
    assert trail_of(first)[1].who == "keeper"


def test_what_was_called_off_stays_called_off_and_is_not_added():
    mat = make_mat()
    stored(mat, date(2026, 5, 1), counts_for=4, state="called off")
    stored(mat, date(2026, 5, 31), counts_for=3)
    migrate()
    assert sorted(mat.usage_events.values_list("state", "counts_for", "basis")) == [
        ("called off", 4, "usual"),
        ("went", 3, "usual"),
    ]


def test_a_trail_that_had_begun_says_usual_too(keeper):
    row = stored(make_mat(), date(2026, 5, 1))
    with transaction.atomic():
        row.correct(by=keeper, counts_for=4)
    migrate()
    row.refresh_from_db()
    assert [state.basis for state in row.history.all()] == ["usual", "usual"]
    assert (row.counts_for, row.basis, len(trail_of(row))) == (4, "usual", 2)


def test_done_twice_nothing_more_happens():
    mat = make_mat()
    for day in (1, 31):
        stored(mat, date(2026, 5, day))
    migrate()
    before = list(UsageEvent.objects.order_by("pk").values()), UsageEvent.history.count()
    migrate()
    assert (list(UsageEvent.objects.order_by("pk").values()), UsageEvent.history.count()) == before
