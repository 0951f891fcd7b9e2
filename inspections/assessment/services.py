"""What is due, and when: every fitted segment assessed from all that is known of it.

Reads columns, computes on arrays, writes one `Assessment` row per segment fitted in a mat in service.
"""

from django.db import transaction
from django.db.models import Case, F, When

from ..choices import Stage
from ..models import Assessment, PoolState
from ..models.column_insert import plain
from .causes import age_columns, damage_columns, events_columns, loss_columns, status_columns
from .new_days import keep_new_days, read_known
from .policy_in_force import current_policy
from .pool_fits import clock, fit_trend, fits_alike, store_fit, stored_fit
from .trend_records import fit_records
from .trends import no_trend_columns, trend_columns
from .unfit import doubts_of, unfit_by
from .wear_state import read_wear_state

# more segments than this at a time are assessed in pieces: a query names each of them
PIECE = 5_000


class NewerChanges(Exception):
    """Records changed while the pool was being assessed; assess again."""


def assessments(on, segment_ids=None, *, fitted=None):
    """Unsaved `Assessment` rows of these segments (None: all) as of `on`, by segment; no trend unless the pool is
    `fitted`."""
    known = read_known(on, fitted, segment_ids)
    columns = _assess_known(known, fitted)
    names, wanted = list(columns), segment_ids and set(segment_ids)
    values = (plain(column).tolist() for column in columns.values())
    rows = (dict(zip(names, row, strict=True)) for row in zip(*values, strict=True))
    return [Assessment(assessed_on=on, **row) for row in rows if wanted is None or row["segment_id"] in wanted]


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
    fitted = stored_fit()
    if fits_alike(policy, current_policy()):
        return _assess_known(read_known(on, fitted, policy=policy), fitted)
    state = read_wear_state(on, policy=policy)
    fitted, records = fit_trend(fit_records(state, clock(policy)), policy, start=fitted)
    return assess(state, fitted.model, records)


def reassess(segment_ids, *, on):
    """Assess these segments (None: the whole pool, fitted afresh) again, in the caller's transaction.

    With them go those that were read beside them on a bench day that is newer than the fit.
    """
    # where the others are of another day, they differ from these then: the next page assesses all, whatever its day
    changes = _count_change(assessed_on=Case(When(assessed_on=on, then=F("assessed_on"))))
    if segment_ids is None:
        return _replace_all(*_fitted_and_assessed(on), on, changes)
    fitted, ids = stored_fit(), sorted(set(segment_ids))
    for start in range(0, len(ids), PIECE):
        piece = ids[start : start + PIECE]
        known = read_known(on, fitted, piece)
        columns = _assess_known(known, fitted)
        Assessment.objects.filter(segment__in={*piece, *columns["segment_id"].tolist()}).delete()
        _insert(columns, on)
        keep_new_days(known)


def assess_pool(on, notify=lambda stage: None):
    """Fit the pool and assess all, outside the transaction that writes; returns the number of segments assessed.

    `notify` is called with each stage as it begins, outside any transaction.
    """
    for _ in range(5):
        changes = _state().changes
        notify(Stage.READING)
        columns, *fit = _fitted_and_assessed(on)
        notify(Stage.WRITING)
        try:
            with transaction.atomic():
                if not PoolState.objects.filter(pk=1, changes=changes).update(assessed_on=on):
                    raise NewerChanges
                _replace_all(columns, *fit, on, changes)
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


def on_doubt_asked(sender, mats, on, **kwargs):
    ensure_assessed(on)
    return doubts_of(mats)


def changes_so_far():
    """Counts up with each change that matters to what is assessed."""
    return _state().changes


def _state():
    return PoolState.objects.get_or_create(pk=1)[0]


def _count_change(**values):
    if not PoolState.objects.filter(pk=1).update(changes=F("changes") + 1, **values):
        PoolState.objects.get_or_create(pk=1, defaults={"changes": 1})
    return _state().changes


def _fitted_and_assessed(on):
    """(columns of `Assessment`, PoolFitted, PoolRecords) of the whole pool."""
    state = read_wear_state(on)
    fitted, records = fit_trend(fit_records(state, clock(state.policy)), state.policy, start=stored_fit())
    return assess(state, fitted.model, records), fitted, records


def _replace_all(columns, fitted, records, on, changes):
    Assessment.objects.all().delete()
    _insert(columns, on)
    store_fit(fitted, records, on, changes)
    PoolState.objects.filter(pk=1).update(assessed_on=on)


def _insert(columns, on):
    Assessment.objects.insert_columns(columns | {"assessed_on": on.isoformat()})


def _assess_known(known, fitted):
    return assess(known.state, fitted and fitted.model, known.records)


def assess(state, model, records):
    """The columns of `Assessment` of the segments that a state assesses; no trend without a model.

    `records`: those of the state by the model's clock, as `trend_columns` wants them.
    """
    newest = state.by_day.that_count.newest_of(state.segment)
    columns = age_columns(state) | events_columns(state) | loss_columns(state, newest) | damage_columns(state)
    columns |= no_trend_columns(state) if model is None else trend_columns(state, model, records)
    columns |= status_columns(state, columns, newest.doubtful)
    return columns | {
        "segment_id": state.segment,
        "mat_id": state.mat,
        "position": state.fittings.position[state.current],
    }
