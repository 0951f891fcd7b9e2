"""What the database itself refuses, and what an update makes of records from before it did."""

import io
from contextlib import redirect_stdout
from datetime import date
from importlib import import_module

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.test import override_settings
from factories import fit, make_mat, make_person, make_segment

from fleet.migrations import _account_names, _one_at_a_time
from fleet.models import Fitting, RenamedCode
from fleet.selectors.trail import trail_of
from inspections.assessment.services import assess_pool
from inspections.models import PoolState, WorkOrder, WorkOrderLine

follow = import_module("inspections.migrations.0007_after_fittings_ended").follow
ON = date(2026, 9, 30)
on_postgres = pytest.mark.skipif(
    "not os.environ.get('DATABASE_URL', '').startswith('postgres')", reason="on SQLite writers queue"
)


def refused(write):
    with pytest.raises(IntegrityError), transaction.atomic():
        write()


@pytest.mark.django_db
def test_no_two_accounts_differ_in_capitals_only():
    make_person("Ida")
    refused(lambda: User.objects.create(username="IDA"))


@on_postgres
@pytest.mark.django_db
class TestOneCable:
    def test_in_a_position_at_a_time(self):
        mat = make_mat()
        fit(make_segment(), mat, 1, date(2025, 3, 1), removed_on=date(2025, 6, 1))
        refused(lambda: fit(make_segment(), mat, 1, date(2025, 5, 31)))
        fit(make_segment(), mat, 1, date(2025, 6, 1))
        fit(make_segment(), mat, 2, date(2025, 5, 1))

    def test_in_one_position_at_a_time(self):
        segment = make_segment()
        fit(segment, make_mat(), 1, date(2025, 3, 1), removed_on=date(2025, 6, 1))
        refused(lambda: fit(segment, make_mat(), 1, date(2025, 5, 31), removed_on=date(2025, 7, 1)))
        fit(segment, make_mat(), 1, date(2025, 6, 1))

    def test_that_was_there_on_no_day_takes_no_room(self):
        mat = make_mat()
        fit(make_segment(), mat, 1, date(2025, 3, 1))
        fit(make_segment(), mat, 1, date(2025, 4, 1), removed_on=date(2025, 4, 1))

    def test_whoever_may_not_make_the_extension_is_told_whom_to_ask(self):
        with connection.cursor() as cursor:
            cursor.execute("DROP EXTENSION btree_gist CASCADE")
            cursor.execute("CREATE ROLE plain")
            cursor.execute("SET LOCAL ROLE plain")
        with pytest.raises(CommandError, match="to run CREATE EXTENSION btree_gist in the database"):
            _one_at_a_time.add_constraints(None, connection.schema_editor())


@pytest.fixture(scope="module")
def updated(django_db_setup, django_db_blocker):
    """What the update said; in an older version's database were cables and accounts that it no longer allows."""
    said = io.StringIO()
    # the rows of today's tables, without what that update brought: later ones have changed the tables since
    with django_db_blocker.unblock():
        with connection.schema_editor() as editor:
            _account_names.remove_index(apps, editor)
            _one_at_a_time.remove_constraints(apps, editor)
        try:
            make_what_was_allowed()
        finally:
            with redirect_stdout(said):
                update()
        with django_db_blocker.block():
            yield said.getvalue()
        call_command("flush", interactive=False, verbosity=0)


@override_settings(SIMPLE_HISTORY_ENABLED=False)
def update():
    """What fleet 0005 and inspections 0007 do, in their order; migrations write the trail themselves."""
    for act in (
        _account_names.number_names,
        _account_names.add_index,
        _one_at_a_time.end_overlaps,
        _one_at_a_time.add_constraints,
        follow,
    ):
        with connection.schema_editor() as editor:
            act(apps, editor)


def make_what_was_allowed():
    mat, other = make_mat("M-1"), make_mat("M-2")
    first, second, third = (make_segment(serial=f"C-{number}") for number in (1, 2, 3))
    fit(first, mat, 1, date(2025, 3, 1), removed_on=date(2025, 8, 1), removal_reason="worn")
    fit(second, mat, 1, date(2025, 6, 1))
    fit(third, other, 2, date(2025, 7, 1))
    order = WorkOrder.objects.create(number="W-1", mat=mat, raised_on=ON)
    WorkOrderLine.objects.create(work_order=order, segment=second, position=1)
    order = WorkOrder.objects.create(number="W-2", mat=other, raised_on=ON)
    WorkOrderLine.objects.create(work_order=order, segment=third, position=2)
    Fitting.objects.filter(segment=second).update(removed_on=date(2025, 9, 1))
    fit(second, other, 1, date(2025, 7, 1))
    assess_pool(ON)
    for name in ("ida", "Ida", "IDA", "ida-2", "Jon"):
        make_person(name)


@pytest.mark.django_db
class TestAnUpdate:
    def test_ends_the_earlier_of_two_cables_in_one_place_when_the_later_went_in(self, updated):
        days = list(Fitting.objects.order_by("segment__serial", "fitted_on").values_list("fitted_on", "removed_on"))
        assert days == [
            (date(2025, 3, 1), date(2025, 6, 1)),
            (date(2025, 6, 1), date(2025, 7, 1)),
            (date(2025, 7, 1), None),
            (date(2025, 7, 1), None),
        ]
        said = "C-1 in M-1 position 1 from 2025-03-01 to 2025-08-01, and C-2 in M-1 position 1 from 2025-06-01 on."
        assert f"{said} The first ends on the later day now." in updated

    def test_keeps_what_was_on_record_in_the_trail(self, updated):
        ended = Fitting.objects.get(segment__serial="C-1")
        newest, entered = trail_of(ended)
        assert (newest.reason, ended.removal_reason, entered.what) == ("the records had two at once", "worn", "entered")
        assert [(change.old, change.new) for change in newest.changes] == [("1 Aug 2025", "1 Jun 2025")]
        assert trail_of(Fitting.objects.get(segment__serial="C-3")) == []

    def test_lets_what_rests_on_them_follow(self, updated):
        open_lines = WorkOrderLine.objects.filter(is_open=True)
        assert [line.segment.serial for line in open_lines] == ["C-3"]
        assert PoolState.objects.get().assessed_on is None

    def test_puts_a_number_behind_the_later_of_two_names_that_differ_in_capitals_only(self, updated):
        names = list(User.objects.order_by("pk").values_list("username", flat=True))
        assert names == ["ida", "Ida-3", "IDA-4", "ida-2", "Jon"]
        assert list(RenamedCode.objects.values_list("model", "was", "now", "same_as")) == [
            ("auth.user", "Ida", "Ida-3", "ida"),
            ("auth.user", "IDA", "IDA-4", "ida"),
        ]
        assert "The second is “Ida-3” now." in updated
