"""A large invented pool as the files that `load` takes."""

import csv
import io
from datetime import timedelta

import numpy as np
from big_pool import iso, readings, usage
from drawn_pool import LENGTHS_M, ON, POSITIONS, READINGS, draw_pool

USAGE_DAYS = 8 * 365
DAYS = range(1, USAGE_DAYS + 60)
# of each segment with what belongs to it: itself, its fitting, its readings, ten rows of usage, and an eighth of a mat
# with a spare on the shelf
ROWS_A_SEGMENT = 1 + 1 + READINGS + 10 + 2 / POSITIONS


def big_files(rows, seed=1):
    """{file name: bytes} of about so many rows, more than half of them usage."""
    mats = max(int((rows - len(DAYS)) / ROWS_A_SEGMENT) // POSITIONS, 1)
    pool, rng = draw_pool(mats * POSITIONS, seed=seed), np.random.default_rng(seed)
    start, segments = ON - timedelta(USAGE_DAYS), range(mats * POSITIONS)
    tables = {
        "cable_types": (("cable_type", "db_per_m_400mhz", "db_per_m_1000mhz"), [("thin", 0.38, 0.62)]),
        "mat_designs": (("design", "width_m"), [("eight", 4.0)]),
        "positions": (
            ("design", "position", "length_m", "cable_type"),
            [("eight", number, length_m, "thin") for number, length_m in enumerate(LENGTHS_M.tolist(), 1)],
        ),
        "mats": (("mat", "design", "depot"), [(mat_number(m), "eight", f"Barn {m % 3}") for m in range(1, mats + 1)]),
        "segments": (
            ("segment", "cable_type", "length_m", "lot"),
            [
                (serial(s), "thin", length_m, f"L{s % 40}")
                for s, length_m in enumerate([*pool.length_m.tolist(), *[LENGTHS_M[0]] * mats])
            ],
        ),
        "fittings": (
            ("segment", "mat", "position", "fitted_on"),
            [
                (serial(s), mat_number(s // POSITIONS + 1), s % POSITIONS + 1, iso(ON, -days))
                for s, days in zip(segments, pool.fitted.tolist(), strict=True)
            ],
        ),
        "events": (
            ("event", "name", "starts_on", "ends_on", "weather"),
            [(event_code(e), "Run", iso(start, e), iso(start, e), ("", "dry", "rain")[e % 3]) for e in DAYS],
        ),
        "usage": (
            ("event", "mat", "state"),
            [(event_code(e), mat_number(m), state) for e, m, state in usage(rng, mats, len(DAYS), USAGE_DAYS)],
        ),
        "instruments": (("instrument", "standard_uncertainty_db"), [("Bench one", 0.05)]),
        "measurements": (
            ("segment", "measured_on", "repeat", "loss_db", "temperature_c", "instrument", "measured_by"),
            [
                (serial(s - 1), day, repeat, loss_db, 12 + s % 14, "Bench one", "Ida")
                for s, day, repeat, loss_db in readings(pool)
            ],
        ),
    }
    return {f"{name}.csv": as_csv(*table) for name, table in tables.items()}


def as_csv(header, rows):
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows([header, *rows])
    return stream.getvalue().encode()


def mat_number(number):
    return f"M-{number:06d}"


def serial(number):
    return f"C-{number + 1:07d}"


def event_code(number):
    return f"E-{number:05d}"
