"""The instruments of the bench: added, corrected, withdrawn."""

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from ...assessment.services import reassess
from ...models import Instrument, Measurement


def add_instrument(*, name, standard_uncertainty_db, by):
    _check_name_is_free(name)
    instrument = Instrument(name=name, standard_uncertainty_db=standard_uncertainty_db, recorded_by=by)
    instrument.full_clean()
    with _name_taken_meanwhile(), transaction.atomic():
        instrument.save()
    return instrument


def correct_instrument(instrument, *, name, standard_uncertainty_db, by, on, because="", seen_version=None):
    """Its readings are judged with the new uncertainty, so what they belong to is assessed again."""
    _check_name_is_free(name, but=instrument)
    sharper = instrument.standard_uncertainty_db != standard_uncertainty_db
    with _name_taken_meanwhile(), transaction.atomic():
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


def _check_name_is_free(name, but=None):
    if Instrument.objects.filter(name=name).exclude(pk=but and but.pk).exists():
        raise ValidationError({"name": f"There is an instrument “{name}” already."})


class _name_taken_meanwhile:
    """Two people who write the same name at once: the unique column lets one of them through."""

    def __enter__(self):
        return self

    def __exit__(self, kind, error, trace):
        if kind is not None and issubclass(kind, IntegrityError):
            raise ValidationError({"name": "Somebody else has just taken this name."}) from error
