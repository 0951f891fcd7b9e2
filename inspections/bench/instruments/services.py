"""The instruments of the bench: added, corrected, withdrawn."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.services.rows import taken_code_refused

from ...assessment.services import reassess
from ...models import Instrument, Measurement


def add_instrument(*, name, standard_uncertainty_db, by):
    instrument = Instrument(name=name, standard_uncertainty_db=standard_uncertainty_db, recorded_by=by)
    instrument.full_clean()
    with taken_code_refused(instrument):
        instrument.save()
    return instrument


def correct_instrument(instrument, *, name, standard_uncertainty_db, by, on, because="", seen_version=None):
    """Its readings are judged with the new uncertainty, so what they belong to is assessed again."""
    sharper = instrument.standard_uncertainty_db != standard_uncertainty_db
    with transaction.atomic(), taken_code_refused(instrument):
        instrument.correct(
            by=by,
            because=because,
            seen_version=seen_version,
            name=name,
            standard_uncertainty_db=standard_uncertainty_db,
        )
        if sharper:
            measured = Measurement.objects.filter(instrument=instrument).order_by().values_list("segment", flat=True)
            reassess(list(measured.distinct()), on=on)
    return instrument


def withdraw_instrument(instrument, *, by, on, because, seen_version=None):
    """It is offered no longer from that day on; its readings stand."""
    if not because.strip():
        raise ValidationError({"because": "Say why it is withdrawn."})
    with transaction.atomic():
        instrument.correct(
            by=by, because=because, seen_version=seen_version, withdrawn_on=on, withdrawn_because=because
        )


def return_instrument(instrument, *, by, on, because, seen_version=None):
    """It is in use again."""
    with transaction.atomic():
        instrument.correct(by=by, because=because, seen_version=seen_version, withdrawn_on=None, withdrawn_because="")
