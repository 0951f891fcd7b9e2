"""A set of files without errors into the database, in one transaction, under one `Load`."""

import numpy as np
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ..models import Depot, Event, Load, MatDay
from ..services.confirmation import WantsConfirmation
from ..services.mat_days import days_of
from ..services.shelf_of_segments import follow_whole_register
from ..signals import wear_changed
from .checking import quiet
from .correcting import Corrections, changed_rows
from .files import DEPOTS, USAGE
from .heads import head_model, new_heads

BATCH = 2_000
PROGRESS_EVERY = 20_000


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
    corrections = Corrections(files, load, lambda field: _ids_of(field, ids))
    for layout in files.layouts:
        corrections.apply(layout)
        if layout is USAGE:
            corrections.settle_days()
        table = files.table(layout.file)
        if table is not None and table.new.any():
            rows = _store_table(table, stamp, ids, progress)
            if layout is USAGE:
                _store_days(rows)
    corrections.settle_rest()
    return load


def counts(files):
    """Per file what a `Load` keeps: hash, rows, how many of them are new, were there already, and are corrected."""
    return {file: _counts(table, len(changed_rows(files, file))) for file, table in files.tables.items()}


def _counts(table, corrected):
    kept = {"sha256": table.sha256, "rows": len(table)}
    kept |= {"stored": int(table.new.sum()), "already_there": int(table.existing.sum())}
    return kept | ({"corrected": corrected} if corrected else {})


def _make_depots(files, stamp):
    """Those that mats, pieces and policy name, and of which depots.csv, if it is there, says nothing."""
    named = set()
    for table in files.tables.values():
        stored = table.new.copy()
        stored[list(changed_rows(files, table.file))] = True
        for column in table.layout.columns:
            if column.related and column.field.model is Depot:
                named.update(name for _, name in table.rows(column.name, where=stored) if name is not None)
    own = files.table(DEPOTS.file)
    told = {name for _, name in own.rows("depot")} if own is not None else set()
    missing = named - told - set(Depot.objects.order_by().values_list("name", flat=True))
    Depot.objects.bulk_create([Depot(name=name, **stamp) for name in sorted(missing)])


def _store_table(table, stamp, ids, progress):
    rows, wanted = [], np.flatnonzero(table.new)
    if table.layout.head:
        _store_heads(table, wanted, stamp, ids)
        # else the head knows who wrote it
        stamp = stamp if table.layout.grows else {}
    for start in range(0, len(wanted), PROGRESS_EVERY):
        part = _instances(table, wanted[start : start + PROGRESS_EVERY], stamp, ids)
        rows += table.layout.model.objects.bulk_create(part, batch_size=BATCH)
        progress(f"{table.file}: {len(rows):,} of {len(wanted):,} rows stored")
    return rows


def _store_heads(table, numbers, stamp, ids):
    model, code = head_model(table.layout), table.layout.head_code.field.name
    first = new_heads(table, numbers, set(model.objects.order_by().values_list(code, flat=True)))
    of_head = [column for column in table.layout.columns if column.of_head]
    to_others = [column for column in of_head if column.related and column.field.model is model]
    fields = _fields(table, [column for column in of_head if column not in to_others], first, ids)
    heads = model.objects.bulk_create([model(**row, **stamp) for row in _by_row(fields)], batch_size=BATCH)
    for column in to_others:
        _point_to_others(heads, column, _fields(table, [column], first, ids)[column.related.attname])


def _point_to_others(heads, column, keys):
    """Heads may name each other, so all are stored before they do."""
    pointing = [(head, key) for head, key in zip(heads, keys, strict=True) if key is not None]
    for head, key in pointing:
        setattr(head, column.related.attname, key)
    type(heads[0]).objects.bulk_create(
        [head for head, _ in pointing],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[column.related.name],
        batch_size=BATCH,
    )


def _instances(table, numbers, stamp, ids):
    layout = table.layout
    fields = _fields(table, [column for column in layout.columns if not column.of_head], numbers, ids)
    if layout.head:
        heads = _ids_of(layout.head_code.field, ids)
        codes = table.values[layout.head_code.name][numbers].tolist()
        fields[layout.model._meta.get_field(layout.head).attname] = [heads[code] for code in codes]
    for number, row in zip(numbers.tolist(), _by_row(fields), strict=True):
        yield layout.model(**(row | layout.more(row)), **table.marks.get(number, {}), **stamp)


def _fields(table, columns, numbers, ids):
    """{field: its value in each row}."""
    fields = {}
    for column in columns:
        values = table.values[column.name][numbers].tolist()
        if column.about:
            fields |= _ids_about(table, column, numbers, ids)
        elif column.related:
            codes = _ids_of(column.field, ids)
            fields[column.related.attname] = [None if value is None else codes[value] for value in values]
        else:
            fields[column.own_path] = values
    return fields


def _by_row(fields):
    return (dict(zip(fields, values, strict=True)) for values in zip(*fields.values(), strict=True))


def _ids_about(table, column, numbers, ids):
    """{field that points to what the row is about: a key or None for each row}."""
    words = table.values[column.about][numbers].tolist()
    codes = table.values[column.name][numbers].tolist()
    found = {}
    for word in table.layout.column(column.about).words:
        field = table.layout.model._meta.get_field(word)
        known = _ids_of(_code_of(field.related_model), ids) if word in words else {}
        rows = zip(words, codes, strict=True)
        found[field.attname] = [known[code] if about == word else None for about, code in rows]
    return found


def _code_of(model):
    return model._meta.get_field(model.key_field().code)


def _ids_of(field, ids):
    """{code: primary key} of the model that the field names, read once everything it needs is stored."""
    if field not in ids:
        ids[field] = dict(field.model.objects.order_by().values_list(field.name, "pk"))
    return ids[field]


def _store_days(usage_events):
    events = Event.objects.in_bulk({usage.event_id for usage in usage_events} if len(usage_events) < BATCH else None)
    days = [day for usage in usage_events for day in days_of(usage, events[usage.event_id])]
    MatDay.objects.bulk_create(days, batch_size=BATCH)
