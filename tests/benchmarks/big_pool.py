"""A large invented pool in a SQLite file, filled without the app so that filling takes seconds."""

import os
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

import numpy as np

ON = date(2026, 9, 30)
POSITIONS = 8
READINGS = 5
# usage rows for each segment: 1,000,000 at 100,000 segments
USAGE = 10
LENGTHS_M = np.linspace(0.6, 3.6, POSITIONS)


def open_pool(segments, folder=None):
    """Set Django up on a fresh pool of that size; returns the database's path."""
    folder = Path(folder or tempfile.mkdtemp(prefix="halfpower_bench_"))
    os.environ |= {"HALFPOWER_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    fill(segments)
    return folder / "pool.sqlite3"


def fill(segments, seed=1):
    """Mats of eight positions, each with about eighty events over eight years, and five readings a segment."""
    from django.db import transaction

    from fleet.models import CableSegment, CableType, DesignPosition, Event, Fitting, Mat, MatDesign, UsageEvent
    from inspections.models import Measurement

    rng = np.random.default_rng(seed)
    mats = max(segments // POSITIONS, 1)
    cable_type = CableType.objects.create(name="thin", db_per_m_400mhz=0.38, db_per_m_1000mhz=0.62)
    design = MatDesign.objects.create(code="eight", width_m=4.0)
    for number, length_m in enumerate(LENGTHS_M, 1):
        DesignPosition.objects.create(design=design, number=number, length_m=float(length_m), cable_type=cable_type)
    start = ON - timedelta(8 * 365)
    mat_ids, segment_ids = range(1, mats + 1), range(1, mats * POSITIONS + 1)
    length_m = np.tile(LENGTHS_M, mats)
    fitted = rng.integers(0, 4 * 365, len(length_m))
    last_day = 8 * 365
    days = range(1, last_day + 60)
    with transaction.atomic():
        insert(Mat, ("id", "number", "design_id"), ((m, f"M-{m:06d}", design.pk) for m in mat_ids))
        insert(
            CableSegment,
            ("id", "serial", "cable_type_id", "length_m"),
            ((s, f"C-{s:07d}", cable_type.pk, float(length_m[s - 1])) for s in segment_ids),
        )
        insert(
            Fitting,
            ("segment_id", "mat_id", "position", "fitted_on"),
            ((s, (s - 1) // POSITIONS + 1, (s - 1) % POSITIONS + 1, iso(ON, -int(fitted[s - 1]))) for s in segment_ids),
        )
        insert(
            Event,
            ("id", "code", "name", "starts_on", "ends_on"),
            ((e, f"E-{e:05d}", "Run", iso(start, e), iso(start, e)) for e in days),
        )
        insert(UsageEvent, ("event_id", "mat_id", "state"), usage(rng, mats, len(days), last_day))
        insert(Measurement, ("segment_id", "measured_on", "repeat", "loss_db"), readings(rng, length_m, fitted))


def usage(rng, mats, days, last_day):
    """Each mat at events drawn once for all; those after the last day are planned."""
    drawn = np.argsort(rng.random((min(mats, 500), days)), axis=1)[:, : USAGE * POSITIONS] + 1
    for mat in range(1, mats + 1):
        for event in drawn[mat % len(drawn)].tolist():
            yield event, mat, "planned" if event > last_day else "went"


def readings(rng, length_m, fitted):
    segments = len(length_m)
    years = np.sort(rng.random((segments, READINGS)), axis=1) * fitted[:, None] / 365.25
    level = 0.2 + 0.56 * length_m + 0.05 * rng.standard_normal(segments)
    rate = np.abs(0.1 + 0.1 * length_m + 0.06 * rng.standard_normal(segments))
    loss_db = level[:, None] + rate[:, None] * years + 0.07 * rng.standard_normal((segments, READINGS))
    for s in range(segments):
        for k in range(READINGS):
            day = iso(ON, int(years[s, k] * 365.25) - int(fitted[s]))
            yield s + 1, day, k + 1, round(abs(float(loss_db[s, k])), 3)


def insert(model, columns, rows):
    """Rows of a model, given some of its columns; the others take their defaults, and codes their keys."""
    from django.db import connection

    from fleet.models.codes import Coded

    if issubclass(model, Coded):
        columns, rows = with_keys(model.key_field(), columns, rows)
    others = [f for f in model._meta.concrete_fields if f.column not in columns and not f.primary_key]
    rest = tuple(f.get_db_prep_save(f.get_default(), connection) for f in others)
    names = [*columns, *(f.column for f in others)]
    marks = ", ".join(["%s"] * len(names))
    statement = f"INSERT INTO {model._meta.db_table} ({', '.join(names)}) VALUES ({marks})"
    with connection.cursor() as cursor:
        cursor.executemany(statement, (row + rest for row in rows))


def with_keys(key, columns, rows):
    from fleet.models.fields import code_key

    code = columns.index(key.code)
    return (*columns, key.column), ((*row, code_key(row[code])) for row in rows)


def iso(day, offset):
    return (day + timedelta(offset)).isoformat()
