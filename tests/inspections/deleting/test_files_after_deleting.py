"""What was deleted is in no file, comes back with no load, and its trail comes back with a back-up."""

import io
import zipfile
from datetime import timedelta

import pytest
from backups import AT, empty_the_pool, make_pool, restore, whole_pool
from factories import make_mat, make_segment

from fleet.models import Event, Fitting
from fleet.services.deleting import delete_event
from fleet.services.fittings import TakenOut, fit_segment
from inspections.backup.making import make_backup
from inspections.deleting.selectors import was_called
from inspections.deleting.services import delete_fitting, delete_mat
from inspections.files.loading import load_pool_files
from inspections.files.saving import export_zip
from inspections.models import Measurement

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def files_before(keeper, on, data_dir):
    """Files of a pool of which more was told since and then deleted: a fitting, an event, and a mat with its cables."""
    acts = {"by": keeper, "on": on}
    make_pool(keeper, on, data_dir)
    # two lines of text come back with a back-up, and are refused in a file
    Measurement.objects.exclude(note="").update(note="wet through")
    before = files()
    old = Fitting.objects.get(position=2)
    segment = make_segment(old.segment.length_m, "N-10", cable_type=old.segment.cable_type)
    out = TakenOut(old, "worn", "thrown away")
    wrong = fit_segment(segment, old.mat, 2, fitted_on=on, out=out, **acts).fitting
    delete_fitting(wrong, cables=True, reason="never so", **acts)
    word = make_mat("und", old.mat.design, fitted=True, fitted_on=on - timedelta(9))
    delete_mat(word, cables=True, reason="a word", **acts)
    event = Event.objects.create(code="E-999", name="Drill", starts_on=on, ends_on=on)
    delete_event(event, reason="a drill", **acts)
    return before


def files():
    with export_zip() as stream, zipfile.ZipFile(io.BytesIO(stream.read())) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist()}


def test_files_say_the_same_as_before_and_make_the_same_pool_again(files_before, keeper, on, data_dir):
    assert files() == files_before
    empty_the_pool(data_dir)
    load_pool_files({name: text for name, text in files_before.items() if name.endswith(".csv")}, by=None, on=on)
    assert files() == files_before


def test_a_back_up_brings_the_trail_back(files_before, on, data_dir, tmp_path):
    make_backup(tmp_path / "pool.zip", now=AT)
    before = whole_pool(data_dir)
    empty_the_pool(data_dir)
    restore(tmp_path / "pool.zip")
    assert whole_pool(data_dir) == before
    assert [entry.reason for code in ("und", "N-10", "E-999") for entry in was_called(code)] == [
        *("a word", "never so", "a drill")
    ]
