"""Bench days that were marked before marks had days get theirs from who wrote them when."""

from datetime import date, datetime
from importlib import import_module

import pytest
from django.apps import apps
from django.utils import timezone
from factories import say_of_bench_day

from inspections.models import BenchDaySaid

pytestmark = pytest.mark.django_db
migration = import_module("inspections.migrations.0023_marked_days")
DAY = date(2026, 6, 1)


def said(day, **states):
    """The word on that bench day, said at noon of each day of June `d…` anew: why it is not to be trusted, or ""."""
    times = [timezone.make_aware(datetime(2026, 6, int(name[1:]), 12)) for name in states]
    row = say_of_bench_day(day, recorded_at=times[0], not_trusted_reason=[*states.values()][-1])
    for time, reason in zip(times, states.values(), strict=True) if len(states) > 1 else ():
        tracked = {field.attname: getattr(row, field.attname) for field in row.history.model.tracked_fields}
        kept = tracked | {"not_trusted_reason": reason}
        row.history.model.objects.create(history_date=time, history_type="~", **kept)
    return row


@pytest.mark.parametrize(
    ("states", "marked_on"),
    [
        ({"d3": "lead crushed"}, date(2026, 6, 3)),
        ({"d3": "", "d5": "lead crushed"}, date(2026, 6, 5)),
        ({"d3": "lead", "d5": "lead crushed"}, date(2026, 6, 3)),
        ({"d3": "lead", "d5": "", "d7": "lead crushed"}, date(2026, 6, 7)),
        ({"d3": "lead", "d5": ""}, None),
    ],
)
def test_the_day_of_a_mark_is_that_on_which_the_reason_came_that_still_stands(states, marked_on):
    row = said(DAY, **states)
    migration.say_when_days_were_marked(apps, None)
    row.refresh_from_db()
    assert row.not_trusted_on == marked_on


def test_no_day_is_marked_before_it_was():
    said(date(2026, 6, 10), d3="lead crushed")
    migration.say_when_days_were_marked(apps, None)
    assert BenchDaySaid.objects.get().not_trusted_on == date(2026, 6, 10)
