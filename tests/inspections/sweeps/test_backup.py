"""Kept sweeps in back-ups: rows and files come back as they were, and files that no sweep names go with age."""

import io
import os
from datetime import timedelta
from hashlib import sha256

import pytest
from backups import restore
from django.core.management import call_command
from django.utils import timezone
from factories import make_segment

from inspections.backup.left_overs import clear_sweeps
from inspections.models import Measurement, Sweep
from inspections.sweep_files import keep_sweep_file, kept_sweep_file
from inspections.sweeps.selectors import KEPT_DAYS
from inspections.sweeps.services import SweepToKeep, keep_sweeps

pytestmark = pytest.mark.django_db(transaction=True)
CONTENT = b"# MHz S DB R 50\n890 -30 0 -1.30 10 -1.30 10 -30 0\n900 -30 0 -1.31 10 -1.31 10 -30 0\n"


def kept(keeper, serial="C-1", content=CONTENT):
    today = timezone.localdate()
    file = SweepToKeep(
        make_segment(serial=serial), today, "through", f"{serial}.s2p", sha256(content).hexdigest(), content
    )
    return keep_sweeps([file], by=keeper, on=today).sweeps[0]


def path_of(data_dir, sha256):
    return data_dir / "sweeps" / sha256[:2] / sha256


def backed_up(tmp_path):
    said = io.StringIO()
    call_command("backup", tmp_path / "pool.zip", stdout=said)
    return tmp_path / "pool.zip", said.getvalue()


def test_files_and_rows_come_back(keeper, tmp_path, data_dir):
    sweep = kept(keeper)
    backup, said = backed_up(tmp_path)
    assert "missing" not in said
    Sweep.objects.all().delete()
    Measurement.objects.all().delete()
    path_of(data_dir, sweep.sha256).unlink()
    restore(backup, replace=True)
    back = Sweep.objects.get()
    assert (back.segment.serial, back.file_name, back.reading.loss_db) == ("C-1", "C-1.s2p", 1.31)
    assert kept_sweep_file(back.sha256) == CONTENT


def test_a_file_that_is_gone_is_named_by_the_back_up(keeper, tmp_path, data_dir):
    sweep = kept(keeper)
    path_of(data_dir, sweep.sha256).unlink()
    assert f"These sweep files are missing, so they are not in it: sweeps/{sweep.sha256[:2]}" in backed_up(tmp_path)[1]


@pytest.mark.skipif(os.name == "nt", reason="no such rights there")
def test_a_kept_file_is_for_its_owner_alone(keeper, data_dir):
    assert path_of(data_dir, kept(keeper).sha256).stat().st_mode & 0o077 == 0


def test_files_that_no_sweep_names_go_long_after_they_were_written(keeper, data_dir):
    named, left_over = kept(keeper).sha256, keep_sweep_file(b"left over")
    now = timezone.now()
    clear_sweeps(now)
    assert path_of(data_dir, left_over).is_file()
    clear_sweeps(now + timedelta(days=KEPT_DAYS + 1))
    assert not path_of(data_dir, left_over).exists()
    assert path_of(data_dir, named).is_file()
