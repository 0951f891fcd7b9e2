"""A large invented pool in a SQLite file, filled without the app so that filling takes seconds."""

import os
import shutil
import sys
from datetime import timedelta
from pathlib import Path

import numpy as np
from drawn_pool import BENCH_DAYS, LENGTHS_M, ON, POSITIONS, draw_pool

# usage rows for each segment: 1,000,000 at 100,000 segments
USAGE = 10
EMPTY = "empty.sqlite3"


def open_pool(segments, folder, bench_days=BENCH_DAYS, tables=None):
    """Set Django up on a fresh pool of that size; returns the database's path. `tables`: a database with empty tables,
    as each leaves one as EMPTY in its folder."""
    path = open_empty(folder, tables)
    # what waits beside the file is written into it
    from django.db import connection

    connection.close()
    shutil.copyfile(path, folder / EMPTY)
    fill(segments, bench_days)
    return path


def open_empty(folder, tables=None):
    """Set Django up on an empty pool; returns the path of its database, where that is a file."""
    os.environ |= {"HALFPOWER_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    import django
    from django.core.management import call_command

    django.setup()
    path = folder / "pool.sqlite3"
    if tables:
        shutil.copyfile(tables, path)
    call_command("migrate", verbosity=0)
    return path


def fill(segments, bench_days=BENCH_DAYS, seed=1):
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
    pool = draw_pool(mats * POSITIONS, bench_days, seed)
    length_m, fitted = pool.length_m.tolist(), pool.fitted.tolist()
    last_day = 8 * 365
    days = range(1, last_day + 60)
    with transaction.atomic():
        insert(Mat, ("id", "number", "design_id"), ((m, f"M-{m:06d}", design.pk) for m in mat_ids))
        insert(
            CableSegment,
            ("id", "serial", "cable_type_id", "length_m"),
            ((s, f"C-{s:07d}", cable_type.pk, length_m[s - 1]) for s in segment_ids),
        )
        insert(
            Fitting,
            ("segment_id", "mat_id", "position", "fitted_on"),
            ((s, (s - 1) // POSITIONS + 1, (s - 1) % POSITIONS + 1, iso(ON, -fitted[s - 1])) for s in segment_ids),
        )
        insert(
            Event,
            ("id", "code", "name", "starts_on", "ends_on"),
            ((e, f"E-{e:05d}", "Run", iso(start, e), iso(start, e)) for e in days),
        )
        insert(UsageEvent, ("event_id", "mat_id", "state"), usage(rng, mats, len(days), last_day))
        insert(Measurement, ("segment_id", "measured_on", "repeat", "loss_db"), readings(pool))


def usage(rng, mats, days, last_day):
    """Each mat at events drawn once for all; those after the last day are planned."""
    drawn = np.argsort(rng.random((min(mats, 500), days)), axis=1)[:, : USAGE * POSITIONS] + 1
    for mat in range(1, mats + 1):
        for event in drawn[mat % len(drawn)].tolist():
            yield event, mat, "planned" if event > last_day else "went"


def readings(pool):
    for segment, (measured, loss_db) in enumerate(zip(pool.measured.tolist(), pool.loss_db.tolist(), strict=True), 1):
        for days_before, loss in zip(measured, loss_db, strict=True):
            yield segment, iso(ON, -days_before), 1, loss


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
