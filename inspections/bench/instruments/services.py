"""The instruments of the bench; they are added, withdrawn and taken back into use as everything in the register."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.parsing.counts import counted
from fleet.services.confirmation import WantsConfirmation
from fleet.services.rows import correct_row

from ...assessment.services import reassess
from ...models import Measurement
from ...numeric.words import InstrumentKind
from .selectors import has_numbers, taken_as_through, worded_readings

# what its readings are judged by; by its repeatability how far a reference piece may be off
JUDGED_BY = ("kind", "standard_uncertainty_db", "set_limit_db", "repeatability_db")


@transaction.atomic
def correct_instrument(instrument, *, by, on, reason="", seen_version=None, confirmed=None, **values):
    """Its readings are judged with the new values, so what they belong to is assessed again.

    Raises ValidationError where its readings are words and it is to be no go/no-go tester, or the other way round;
    WantsConfirmation where it is to have one port only, and numbers of it count as read through the cable. `confirmed`
    None: nobody is asked.
    """
    before = [getattr(instrument, name) for name in JUDGED_BY]
    if values.get("kind", instrument.kind) != instrument.kind:
        _check_kind(instrument, values["kind"], confirmed)
    correct_row(instrument, by=by, reason=reason, seen_version=seen_version, **values)
    if [getattr(instrument, name) for name in JUDGED_BY] != before:
        measured = Measurement.objects.filter(instrument=instrument).order_by().values_list("segment", flat=True)
        # asked of the database by `reassess` itself, once no other reading can come in beside it
        reassess(measured.distinct(), on=on)
    return instrument


def _check_kind(instrument, kind, confirmed):
    worded = worded_readings(instrument)
    if worded and kind != InstrumentKind.GO_NO_GO:
        sentence = (
            f"It said “within” or “over” {counted(worded, 'time')}, so it is a go/no-go tester. Add the other one."
        )
        raise ValidationError({"kind": sentence})
    if kind == InstrumentKind.GO_NO_GO and has_numbers(instrument):
        raise ValidationError({"kind": "It showed numbers, and a go/no-go tester shows none. Add the tester apart."})
    numbers = taken_as_through(instrument)
    if numbers and kind == InstrumentKind.ONE_PORT and confirmed is not None:
        _ask_whether_through(instrument, numbers, confirmed)


def _ask_whether_through(instrument, numbers, confirmed):
    message = (
        f"{counted(numbers, 'number')} of {instrument} count as losses read through the cable. An analyser "
        "with one port shows return loss, twice that. Where that is what it showed, make those readings void "
        "and type them again with how the cable was connected."
    )
    tick = "They were read through the cable: leave them as they are"
    WantsConfirmation(message, "one-port", [str(instrument), f"{numbers}"], tick=tick).raise_unless(confirmed)
