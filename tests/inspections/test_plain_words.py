"""An older pool is brought up to date: what it keeps as JSON, and what pages show of it, is in today's words."""

from importlib import import_module

import pytest
from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from factories import make_mat, make_reading

from inspections.assessment.pool_fits import stored_fit
from inspections.assessment.services import assess_pool
from inspections.models import Assessment, PoolTrend, WorkOrder, WorkOrderLine
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
migration = import_module("inspections.migrations.0005_plain_words")


@pytest.fixture
def mat(today):
    mat = make_mat(fitted=True)
    make_reading(mat.fittings.first().segment, 4.0, today)
    assess_pool(today)
    return mat


@pytest.mark.parametrize(("column", "then", "now"), [
    ("trend_from", "its kind", "similar cables"),
    ("measure_reason", "its kind is due", "similar cables are due"),
])  # fmt: skip
def test_assessments_need_not_be_made_again(mat, column, then, now):
    Assessment.objects.filter(position=1).update(**{column: then})
    Assessment.objects.exclude(position=1).update(**{column: "falling"})
    migration.say_similar_cables(apps, None)
    assert list(Assessment.objects.order_by("position").values_list(column, flat=True)) == [now, *["falling"] * 3]


def test_work_orders_keep_their_reasons_and_print_them_in_todays_words(mat, keeper, keeper_client, today):
    raise_work_orders([mat.fittings.first().segment_id], by=keeper, on=today)
    line = WorkOrderLine.objects.get()
    trend = next(reason for reason in line.reasons if reason["cause"] == "loss") | {
        "cause": "trend", "due_on": today.isoformat(), "value": 0.3, "accepted": 0.05, "basis": "its kind",
    }  # fmt: skip
    others = [reason for reason in line.reasons if reason["cause"] != "loss"]
    WorkOrderLine.objects.update(reasons=[trend, *others])
    migration.say_similar_cables(apps, None)
    assert WorkOrderLine.objects.get().reasons == [trend | {"basis": "similar cables"}, *others]
    page = keeper_client.get(WorkOrder.objects.get().get_absolute_url())
    assert "(from similar cables)" in page.content.decode()


def test_the_fit_of_the_pool_is_kept_with_the_moment_at_which_it_was_made(mat):
    row = PoolTrend.objects.get()
    now = {name: value for name, value in row.model.items() if name != "no_model_reason"}
    PoolTrend.objects.update(model=now | {"no_model_because": row.model["no_model_reason"]})
    migration.rename_in_pool_trend(apps, None)
    migrated = PoolTrend.objects.get()
    assert (migrated.model, migrated.fitted_at) == (row.model, row.fitted_at)
    assert stored_fit().model.no_model_reason == "all readings on one day"


def test_a_session_of_then_remembers_why_the_last_mat_was_measured(db):
    session = SessionStore()
    session["bench"] = {"measured_by": "Ida", "because": "suspect"}
    session.save()
    migration.rename_in_sessions(apps, None)
    assert SessionStore(session.session_key)["bench"] == {"measured_by": "Ida", "reason": "suspect"}


def test_a_session_that_cannot_be_read_is_left(db):
    SessionStore().save()
    sessions = apps.get_model("sessions.session").objects
    sessions.update(session_data="cut off")
    migration.rename_in_sessions(apps, None)
    assert sessions.get().session_data == "cut off"
