"""The demo pool: filled once into an empty database, and never touched again."""

from dataclasses import fields

from django.db import transaction

from fleet.models import Load, Mat, MatDay
from fleet.services.mat_days import days_of

from ..assessment.services import reassess
from . import batches, edge_cases, samples, shelf
from .accounts import make_accounts
from .rows import SEED, demo_rows
from .sweeps import keep_demo_sweeps

BATCH = 2_000
MARK = "demo pool"


@transaction.atomic
def fill_demo_pool(on, *, seed=SEED):
    """Fill a database without mats with the demo pool and its accounts as of `on`; False when mats were there."""
    if Mat.objects.exists():
        return False
    keeper = make_accounts()
    rows = demo_rows(on, seed)
    store_rows(rows, by=keeper)
    edge_cases.doubt_and_void(rows, on, keeper)
    shelf.fill_shelf(on, by=keeper)
    batches.judge_batches(on, keeper)
    keep_demo_sweeps(by=keeper)
    reassess(None, on=on)
    samples.draw_samples(on, by=keeper)
    return True


def is_demo_pool():
    """Whether the mats of this database came from here."""
    return Load.objects.filter(files__has_key=MARK).exists()


def store_rows(rows, *, by):
    load = Load.objects.create(loaded_by=by)
    tables = [getattr(rows, field.name) for field in fields(rows)]
    for table in tables:
        for row in table:
            row.load, row.recorded_by = load, by
        type(table[0]).objects.bulk_create(table, batch_size=BATCH)
    days = [day for usage_event in rows.usage_events for day in days_of(usage_event, usage_event.event)]
    MatDay.objects.bulk_create(days, batch_size=BATCH)
    count = sum(map(len, tables))
    load.files = {MARK: {"sha256": "", "rows": count, "stored": count, "already_there": 0}}
    load.save()
