"""What people say of a bench day: that they looked at it, and that it is not to be trusted; either can be taken back.

All that was read on it is assessed again.
"""

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.figures import short_day
from fleet.models import CableSegment
from fleet.services.confirmation import weighed
from fleet.services.locks import hold
from fleet.services.rows import check_day

from ...assessment.services import reassess
from ...models import Measurement

STALE = "Somebody else said something of this bench day meanwhile. Look at it again before you save."


@transaction.atomic
def look_at(said, *, by, on, looked_on, found, seen_version=None):
    """Somebody looked at the bench, and found that; the readings of the day have their verdicts again."""
    check_day("looked_on", looked_on, on, "day on which it was looked at")
    if looked_on < said.measured_on:
        raise ValidationError({"looked_on": f"That is before the bench day, {short_day(said.measured_on)}."})
    if not found.strip():
        raise ValidationError({"found": "Say what was found, also where all was as it should be."})
    return _say(said, seen_version, by=by, on=on, reason="looked at", looked_on=looked_on, found=found.strip())


@transaction.atomic
def take_back_look(said, *, by, on, reason, seen_version=None):
    """Nobody looked at it, or not at what matters."""
    _need_reason(reason)
    return _say(said, seen_version, by=by, on=on, reason=reason, looked_on=None, found="")


@transaction.atomic
def distrust(said, *, by, on, reason, seen_version=None, confirmed=None):
    """Its readings are kept, and from `on` nothing is compared with them."""
    _need_reason(reason)
    values = {"not_trusted_reason": reason.strip(), "not_trusted_on": on}
    return _weighed(said, seen_version, confirmed, by=by, on=on, reason=reason, **values)


@transaction.atomic
def trust_again(said, *, by, on, reason, seen_version=None, confirmed=None):
    """It was never wrong: the mark goes, on every day for which anybody asks, and stays in the trail."""
    _need_reason(reason)
    values = {"not_trusted_reason": "", "not_trusted_on": None}
    return _weighed(said, seen_version, confirmed, by=by, on=on, reason=reason, **values)


def _weighed(said, seen_version, confirmed, *, on, **values):
    segments = CableSegment.objects.filter(pk__in=_read_on(said).values("segment")).order_by("pk")
    with weighed(*segments, on=on, confirmed=confirmed):
        kept = _store(said, seen_version, **values)
    reassess(_segments(said), on=on)
    return kept


def _say(said, seen_version, *, on, **values):
    kept = _store(said, seen_version, **values)
    reassess(_segments(said), on=on)
    return kept


def _store(said, seen_version, *, by, reason, **values):
    """`said` without a key is the first word about its day."""
    if said.pk:
        hold(said)
        return said.correct(by=by, reason=reason, seen_version=seen_version, **values)
    for name, value in values.items():
        setattr(said, name, value)
    said.recorded_by = by
    said.full_clean()
    try:
        with transaction.atomic():
            said.save()
    except IntegrityError as meanwhile:
        raise ValidationError(STALE, code="stale") from meanwhile
    return said


def _need_reason(reason):
    if not reason.strip():
        raise ValidationError({"reason": "Say why: the reason stays beside the bench day."})


def _read_on(said):
    return Measurement.objects.filter(measured_on=said.measured_on, instrument=said.instrument_id).order_by()


def _segments(said):
    """Asked once the assessing lets nobody else write."""
    yield from _read_on(said).values_list("segment", flat=True)
