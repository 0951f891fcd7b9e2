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
    from django.db import connection, transaction

    from fleet.models import CableType, DesignPosition, MatDesign

    rng = np.random.default_rng(seed)
    mats = max(segments // POSITIONS, 1)
    cable_type = CableType.objects.create(name="thin", db_per_m_400mhz=0.38, db_per_m_1000mhz=0.62)
    design = MatDesign.objects.create(code="eight", width_m=4.0)
    for number, length_m in enumerate(LENGTHS_M, 1):
        DesignPosition.objects.create(design=design, number=number, length_m=float(length_m), cable_type=cable_type)
    start = ON - timedelta(8 * 365)
    now = "2026-09-30 00:00:00"
    with transaction.atomic(), connection.cursor() as cursor:
        insert(cursor, "fleet_mat", ("id", "number", "design_id", "owner", "withdrawn_because", "recorded_at", "version"),
               ((m, f"M-{m:06d}", design.pk, "", "", now, 1) for m in range(1, mats + 1)))  # fmt: skip
        segment_ids = range(1, mats * POSITIONS + 1)
        length_m = np.tile(LENGTHS_M, mats)
        insert(cursor, "fleet_cablesegment",
               ("id", "serial", "cable_type_id", "length_m", "lot", "withdrawn_because", "recorded_at", "version"),
               ((s, f"C-{s:07d}", cable_type.pk, float(length_m[s - 1]), "", "", now, 1) for s in segment_ids))  # fmt: skip
        fitted = rng.integers(0, 4 * 365, len(length_m))
        insert(cursor, "fleet_fitting",
               ("segment_id", "mat_id", "position", "fitted_on", "fitted_basis", "removed_because", "recorded_at", "version"),
               ((s, (s - 1) // POSITIONS + 1, (s - 1) % POSITIONS + 1, iso(ON, -int(fitted[s - 1])), "known", "", now, 1)
                for s in segment_ids))  # fmt: skip
        events = 8 * 365
        insert(cursor, "fleet_event",
               ("id", "code", "name", "starts_on", "ends_on", "place", "weather", "recorded_at", "version"),
               ((e, f"E-{e:05d}", "Run", iso(start, e), iso(start, e), "", "dry", now, 1)
                for e in range(1, events + 60)))  # fmt: skip
        each = USAGE * POSITIONS
        went = np.sort(np.argsort(rng.random((min(mats, 500), events + 59)), axis=1)[:, :each], axis=1) + 1
        insert(cursor, "fleet_usageevent",
               ("event_id", "mat_id", "state", "counts_for", "basis", "shares_a_day", "recorded_at", "version"),
               ((int(e), m, "planned" if e > events else "went", 1, "counted", 0, now, 1)
                for m in range(1, mats + 1) for e in went[m % len(went)]))  # fmt: skip
        insert(cursor, "inspections_measurement",
               ("segment_id", "measured_on", "repeat", "loss_db", "no_through", "measured_by", "taken", "because", "note",
                "doubtful_because", "taken_back_because", "recorded_at", "version"),
               readings(rng, length_m, fitted, now))  # fmt: skip


def readings(rng, length_m, fitted, now):
    segments = len(length_m)
    years = np.sort(rng.random((segments, READINGS)), axis=1) * fitted[:, None] / 365.25
    level = 0.2 + 0.56 * length_m + 0.05 * rng.standard_normal(segments)
    rate = np.abs(0.1 + 0.1 * length_m + 0.06 * rng.standard_normal(segments))
    loss_db = level[:, None] + rate[:, None] * years + 0.07 * rng.standard_normal((segments, READINGS))
    for s in range(segments):
        for k in range(READINGS):
            day = iso(ON, int(years[s, k] * 365.25) - int(fitted[s]))
            yield s + 1, day, k + 1, round(abs(float(loss_db[s, k])), 3), 0, "", "as found", "routine", "", "", "", now, 1


def insert(cursor, table, columns, rows):
    marks = ", ".join(["%s"] * len(columns))
    cursor.executemany(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", rows)


def iso(day, offset):
    return (day + timedelta(offset)).isoformat()
