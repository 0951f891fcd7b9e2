"""Nothing is lost, tried small and on the database in use; `stress.py` says how to try it at length."""

import os
import shutil
import subprocess
import sys
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from factories import fit, make_event, make_mat, make_reading, make_segment, make_usage_event
from stress_pool import fill, halves

from fleet.models import CableSegment
from fleet.services.mat_days import write_days
from inspections.models import Assessment, WorkOrder

STRESS = Path(__file__).with_name("stress.py")


@pytest.fixture
def empty_database(django_db_setup, tmp_path):
    """The environment that names a database of the kind in use, with tables and nothing in them."""
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    environment["HALFPOWER_DATA"] = str(tmp_path / "stress")
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        (tmp_path / "stress").mkdir()
        shutil.copy(django_db_setup, tmp_path / "stress" / "pool.sqlite3")
        yield environment
        return
    url, name = os.environ["DATABASE_URL"], f"stress_{uuid.uuid4().hex[:8]}"
    import psycopg

    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name} TEMPLATE {django_db_setup}")
        yield environment | {"DATABASE_URL": url.rpartition("/")[0] + "/" + name}
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def test_what_a_page_confirmed_outlives_a_killed_server_and_writers_do_not_collide(empty_database):
    size = ["--kills", "2", "--writers", "3", "--seconds", "1.5", "--rounds", "1"]
    command = [sys.executable, str(STRESS), "--here", *size]
    done = subprocess.run(command, env=empty_database, capture_output=True, text=True)
    print(done.stdout)
    assert (done.returncode, done.stderr) == (0, "")
    assert ": 2 kills: " in done.stdout
    assert ": 3 writers for 1.5 s: " in done.stdout
    assert ": 1 rounds of 22 collisions, 66 forms sent by 3 writers at once: " in done.stdout


@pytest.mark.django_db
class TestWhatIsThereByHalf:
    """The look-through finds what it is there to find."""

    @pytest.fixture(autouse=True)
    def whole(self, on):
        fill(1, 1, on)
        assert halves(on) == []

    def test_an_event_without_all_its_days(self, on):
        event = make_event(days=2, name="run")
        rows = [make_usage_event(make_mat(), event) for _ in range(2)]
        write_days(rows)
        assert halves(on) == []
        rows[0].days.first().delete()
        assert halves(on) == ["event run: 2 mats, 3 days of mats"]

    def test_an_event_without_its_mats(self, on):
        make_event(name="run")
        assert halves(on) == ["event run: 0 mats, 0 days of mats"]

    def test_a_bench_form_of_which_one_reading_is_missing(self, on):
        for segment in CableSegment.objects.filter(fittings__mat__number="H-0-0")[:3]:
            make_reading(segment, measured_by="hand 1")
        assert [half for half in halves(on) if "bench hand" in half] == ["bench hand 1: 3 readings"]

    def test_a_cable_that_came_out_without_another_going_in(self, on):
        fitting = fit(make_segment(), make_mat("M-9"), removed_on=on, fitted_on=on - timedelta(days=9))
        assert f"position {(fitting.mat.number, 1)}: holds 0" in halves(on)

    def test_an_order_without_its_lines(self, on):
        WorkOrder.objects.create(number="W-2026-001", mat=make_mat(), raised_on=on, sheet={})
        assert halves(on) == ["work order W-2026-001: 0 lines"]

    def test_an_assessment_that_does_not_follow_its_records(self, on):
        row = Assessment.objects.first()
        Assessment.objects.filter(pk=row.pk).update(event_count=row.event_count + 1)
        assert halves(on) == [f"assessment of segment {row.pk}: differs from one made now in event_count"]
