"""A pool with one of everything, its back-up, and all that must come back; for the tests of back-up and restore."""

import io
import json
import shutil
import zipfile
from datetime import date, datetime

import pytest
from django.apps import apps
from django.contrib.auth.hashers import PBKDF2PasswordHasher
from django.core.management import CommandError, call_command
from factories import make_event, make_mat, make_reading, make_usage_event, set_policy_value

from fleet.models import CableSegment, Session
from inspections.assessment.services import reassess
from inspections.backup.newest import newest_backup
from inspections.files.saving import export_zip
from inspections.policy.selectors import policy_trail
from inspections.workshop.services import raise_work_orders

AT = datetime.fromisoformat("2026-09-30T18:04:00+02:00")


def make_pool(keeper, on, data_dir):
    """One of everything that a back-up must bring back, and files that wait, which it does not."""
    # not the quick one of tests: a process of its own must know it
    keeper.password = PBKDF2PasswordHasher().encode("muddy-hands-7", "salt", iterations=1)
    keeper.save()
    mat = make_mat("M-001", fitted=True, fitted_on=date(2022, 3, 1))
    make_usage_event(mat, make_event(days=2))
    segments = list(CableSegment.objects.all())
    make_reading(segments[0], 3.4)
    make_reading(segments[1], None, note="wet through; “=SUM(A1)”\nsecond line")
    set_policy_value("age_limit_years", 4, by=keeper, on=on, reason="longer seasons")
    set_policy_value("age_limit_years", None, by=keeper, on=on, reason="back to the usual")
    reassess(None, on=on)
    raise_work_orders([segments[0].pk], by=keeper, on=on)
    write(data_dir / "uploads" / ("ab" * 32) / "mats.csv", b"mat\r\nM-002\r\n")
    write(data_dir / "sweeps" / "2026" / "M-001.s2p", bytes(range(256)) * 9)


def write(path, content):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def whole_pool(data_dir):
    """All that anybody could miss: the export, every row of every table with its number, and the files."""
    with export_zip() as stream:
        exported = stream.read()
    models = [model for model in apps.get_models() if model._meta.managed and model is not Session]
    rows = {model._meta.label: sorted(map(repr, model._base_manager.values_list())) for model in models}
    return exported, rows, policy_trail(), files_in(data_dir)


def files_in(data_dir):
    """What anybody put there: without copies, and without the lock of a start."""
    left_out = {"copies", "starting.lock"}
    paths = [path for path in data_dir.rglob("*") if path.is_file() and not left_out & set(path.parts)]
    return {path.relative_to(data_dir).as_posix(): path.read_bytes() for path in paths}


def empty_the_pool(data_dir):
    call_command("flush", interactive=False, verbosity=0)
    shutil.rmtree(data_dir / "sweeps")


def newest_age_days(on):
    newest = newest_backup(on)
    return newest and (on - newest.made_on).days


def restore(path, **options):
    output = io.StringIO()
    call_command("restore", path, stdout=output, **options)
    return output.getvalue()


def refusal_of(path, **options):
    with pytest.raises(CommandError) as refused:
        restore(path, **options)
    return str(refused.value)


def rewritten(path, target, *, change=lambda manifest: None, members=(), renamed=()):
    """The same back-up with its manifest changed, and members added, exchanged or renamed."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        manifest = json.loads(old.read("manifest.json"))
        contents = {name: old.read(name) for name in old.namelist() if name != "manifest.json"} | dict(members)
        change(manifest)
        for name, content in contents.items():
            new.writestr(dict(renamed).get(name, name), content)
        new.writestr("manifest.json", json.dumps(manifest))
    return target
