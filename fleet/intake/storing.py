"""A set of files without errors into the database, in one transaction, under one `Load`."""

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..models import Depot, Load, MatDay, UsageEvent
from ..models.bulk_rows import count_anew
from ..services.confirmation import WantsConfirmation
from ..services.mat_days import write_days_at_once
from ..services.shelf_of_segments import follow_whole_register
from ..signals import wear_changed
from .checking import quiet
from .correcting import Corrections, changed_rows
from .files import DEPOTS, USAGE
from .new_rows import ids_of, store_new_rows

# tables that grew by less are planned for well enough as they were
COUNTED_FROM = 1_000


class UnusualRows(WantsConfirmation):
    """Nothing was stored: files hold unusual values, and nobody said yet that they are meant."""

    def __init__(self, files):
        count = files.unusual.count
        values, it, are = ("value", "it", "it is") if count == 1 else ("values", "them", "they are")
        message = f"{count:,} unusual {values}: correct {it}, or say that {are} meant."
        what = [f"{count}", *map(repr, files.unusual.in_order())]
        super().__init__(message, "unusual", what, tick=f"{are.capitalize()} meant: store {it}")
        self.files = files


class FilesRefused(ValidationError):
    """Nothing was stored; `files.errors` says why."""

    def __init__(self, files):
        self.files = files
        super().__init__(f"{files.errors.count:,} errors: nothing was stored.", code="refused")


def store_files(files, *, by, confirmed="", progress=quiet):
    """Store the new rows of a checked set, correct what its differences change, and signal once that the whole pool
    may have changed.

    Returns the `Load`, or None when every row was there already and nothing is corrected. FilesRefused when the set
    has an error, UnusualRows unless `confirmed` has its fingerprint, ValidationError when somebody else stored the
    same rows since it was checked. Call inside the transaction that checked, so that nobody can write in between.
    """
    if files.errors:
        raise FilesRefused(files)
    if files.unusual:
        UnusualRows(files).raise_unless(confirmed)
    if not files.changes and not any(table.new.any() for table in files.tables.values()):
        return None
    try:
        with transaction.atomic():
            load = _store(files, by, progress)
            follow_whole_register(by=by, on=files.on, note="on the shelf when it was loaded")
            wear_changed.send(sender=Load, segment_ids=None, on=files.on)
            return load
    except IntegrityError as error:
        sentence = "Somebody stored some of these rows meanwhile. Check the files again."
        raise ValidationError(sentence, code="stale") from error


def _store(files, by, progress):
    load = Load.objects.create(loaded_by=by, files=counts(files))
    stamp = {"load_id": load.pk, "recorded_by_id": by and by.pk, "recorded_at": load.loaded_at}
    _make_depots(files, stamp)
    ids = {}
    corrections = Corrections(files, load, lambda field: ids_of(field, ids))
    for layout in files.layouts:
        corrections.apply(layout)
        if layout is USAGE:
            corrections.settle_days()
        table = files.table(layout.file)
        if table is not None and table.new.any():
            store_new_rows(table, stamp, ids, progress)
            if layout is USAGE:
                write_days_at_once(UsageEvent.objects.filter(load=load))
    _count_anew(files)
    corrections.settle_rest()
    return load


def _count_anew(files):
    grown = {table.layout.model for table in files.tables.values() if table.new.sum() >= COUNTED_FROM}
    if grown:
        count_anew(grown | {MatDay} if UsageEvent in grown else grown)


def counts(files):
    """Per file what a `Load` keeps: hash, rows, how many of them are new, were there already, and are corrected."""
    return {file: _counts(table, len(changed_rows(files, file))) for file, table in files.tables.items()}


def _counts(table, corrected):
    kept = {"sha256": table.sha256, "rows": len(table)}
    kept |= {"stored": int(table.new.sum()), "already_there": int(table.existing.sum())}
    kept |= {"from": table.source} if table.source else {}
    return kept | ({"corrected": corrected} if corrected else {})


def _make_depots(files, stamp):
    Depot.objects.bulk_create([Depot(name=name, **stamp) for name in depots_to_make(files)])


def depots_to_make(files):
    """Names of those that mats, pieces and policy name, and of which depots.csv, if it is there, says nothing."""
    named = set()
    for table in files.tables.values():
        stored = table.new.copy()
        stored[list(changed_rows(files, table.file))] = True
        for column in table.layout.columns:
            if column.related and column.field.model is Depot:
                named.update(name for _, name in table.rows(column.name, where=stored) if name is not None)
    own = files.table(DEPOTS.file)
    told = {name for _, name in own.rows("depot")} if own is not None else set()
    return sorted(named - told - set(Depot.objects.order_by().values_list("name", flat=True)))
