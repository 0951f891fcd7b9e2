"""The instruments of the bench; they are added, withdrawn and taken back into use as everything in the register."""

from django.db import transaction

from fleet.services.rows import correct_row

from ...assessment.services import reassess
from ...models import Measurement


@transaction.atomic
def correct_instrument(instrument, *, by, on, reason="", seen_version=None, **values):
    """Its readings are judged with the new uncertainty, so what they belong to is assessed again."""
    before_db = instrument.standard_uncertainty_db
    correct_row(instrument, by=by, reason=reason, seen_version=seen_version, **values)
    if instrument.standard_uncertainty_db != before_db:
        measured = Measurement.objects.filter(instrument=instrument).order_by().values_list("segment", flat=True)
        # asked of the database by `reassess` itself, once no other reading can come in beside it
        reassess(measured.distinct(), on=on)
    return instrument
