"""What is due, and when: every fitted segment assessed from all that is known of it.

Reads columns, computes on arrays, writes one `Assessment` row per segment fitted in a mat in service.
"""

from django.db import transaction
from django.db.models import Case, F, When

from ..choices import Stage
from ..models import Assessment, PoolState
from ..models.column_insert import plain
from .causes import age_columns, damage_columns, events_columns, loss_columns, status_columns
from .policy_in_force import current_policy
from .trends import clock, fit_records, fit_trend, fits_alike, store_model, stored_model, trend_columns
from .unfit import unfit_by
from .wear_state import read_wear_state

# more segments than this at a time are assessed in pieces: a query names each of them
PIECE = 5_000


class NewerChanges(Exception):
    """Records changed while the pool was being assessed; assess again."""


def assessments(on, segment_ids=None, *, model=None):
    """Unsaved `Assessment` rows of these segments (None: all) as of `on`, by segment; no trend without a `model`."""
    columns = assess(read_wear_state(on, segment_ids), model)
    names = list(columns)
    values = (plain(column).tolist() for column in columns.values())
    return [Assessment(assessed_on=on, **dict(zip(names, row, strict=True))) for row in zip(*values, strict=True)]


def with_related(rows, *names):
    """The rows, with the related rows of these names; as many queries as names, and on SQLite one a thousand keys.

    Django's own prefetch asks SQLite with an OR for each key, which it refuses from a thousand on.
    """
    for name in names:
        field = Assessment._meta.get_field(name)
        keys = {getattr(row, field.attname) for row in rows} - {None}
        found = field.related_model._base_manager.in_bulk(keys)
        for row in rows:
            setattr(row, name, found.get(getattr(row, field.attname)))
    return rows


def assessed_under(policy, on):
    """Columns of `Assessment` of the whole pool as another policy would have them; nothing is stored.

    The trend is that of the last fit, unless that policy changes what goes into a fit.
    """
    state = read_wear_state(on, policy=policy)
    if fits_alike(policy, current_policy()):
        return assess(state, stored_model())
    records = fit_records(state, clock(policy))
    return assess(state, fit_trend(records, policy), records)


def reassess(segment_ids, *, on):
    """Assess these segments (None: the whole pool, fitted afresh) again, in the caller's transaction."""
    # where the others are of another day, they differ from these then: the next page assesses all, whatever its day
    changes = _count_change(assessed_on=Case(When(assessed_on=on, then=F("assessed_on"))))
    if segment_ids is None:
        return _replace_all(*_fitted_and_assessed(on), on, changes)
    model, ids = stored_model(), sorted(set(segment_ids))
    for start in range(0, len(ids), PIECE):
        piece = ids[start : start + PIECE]
        columns = assess(read_wear_state(on, piece), model)
        Assessment.objects.filter(segment__in=piece).delete()
        _insert(columns, on)


def assess_pool(on, notify=lambda stage: None):
    """Fit the pool and assess all, outside the transaction that writes; returns the number of segments assessed.

    `notify` is called with each stage as it begins, outside any transaction.
    """
    for _ in range(5):
        changes = _state().changes
        notify(Stage.READING)
        columns, model = _fitted_and_assessed(on)
        notify(Stage.WRITING)
        try:
            with transaction.atomic():
                if not PoolState.objects.filter(pk=1, changes=changes).update(assessed_on=on):
                    raise NewerChanges
                _replace_all(columns, model, on, changes)
            return len(columns["segment_id"])
        except NewerChanges:
            continue
    with transaction.atomic():
        reassess(None, on=on)
    return Assessment.objects.count()


def invalidate():
    """Mark all assessments as out of date, in the caller's transaction: the next page assesses the pool again."""
    _count_change(assessed_on=None)


def ensure_assessed(on):
    """Bring assessments of another day to `on`: so the list stays right as days pass, and after a clock was wrong."""
    if _state().assessed_on != on:
        assess_pool(on)


def assess_what_lies_ahead(today):
    """Assess again what was assessed for a day that has not come, while the clock was wrong; else nothing."""
    if PoolState.objects.filter(assessed_on__gt=today).exists():
        assess_pool(today)


def on_wear_changed(sender, segment_ids, on, **kwargs):
    reassess(segment_ids, on=on)


def on_unfit_asked(sender, mats, day, on, **kwargs):
    ensure_assessed(on)
    return unfit_by(mats, day)


def _state():
    return PoolState.objects.get_or_create(pk=1)[0]


def _count_change(**values):
    if not PoolState.objects.filter(pk=1).update(changes=F("changes") + 1, **values):
        PoolState.objects.get_or_create(pk=1, defaults={"changes": 1})
    return _state().changes


def _fitted_and_assessed(on):
    state = read_wear_state(on)
    records = fit_records(state, clock(state.policy))
    model = fit_trend(records, state.policy)
    return assess(state, model, records), model


def _replace_all(columns, model, on, changes):
    Assessment.objects.all().delete()
    _insert(columns, on)
    store_model(model, on, changes)
    PoolState.objects.filter(pk=1).update(assessed_on=on)


def _insert(columns, on):
    Assessment.objects.insert_columns(columns | {"assessed_on": on.isoformat()})


def assess(state, model, records=None):
    """The columns of `Assessment` of the segments that a state assesses; no trend without a model.

    `records`: those of the state by the model's clock, where they are at hand.
    """
    newest = state.by_day.newest_of(state.segment)
    columns = age_columns(state) | events_columns(state) | loss_columns(state, newest) | damage_columns(state)
    columns |= trend_columns(state, model, records)
    columns |= status_columns(state, columns, newest.doubtful)
    return columns | {
        "segment_id": state.segment,
        "mat_id": state.mat,
        "position": state.fittings.position[state.current],
    }
