"""What was said of sheets is kept for the next of their shapes."""

from django.db import transaction

from fleet.services.locks import hold_pool

from ..models import KeptMeaning
from ..models.sheet_meanings import SHEET_NAME_LENGTH
from .kept_shapes import shape_of, what_is_kept

BECAUSE = "Said anew for a file"


@transaction.atomic
def keep_meanings(workbook, meanings, *, by):
    """Keep what these meanings say of each sheet that has headings; what was said before is corrected."""
    hold_pool()
    said = {meaning.sheet: meaning for meaning in meanings}
    for sheet in workbook.sheets:
        meaning = said[sheet.name]
        if shape := shape_of(sheet, meaning.header_row):
            _keep(shape, sheet.name, what_is_kept(sheet, meaning), by)


def _keep(shape, name, said, by):
    kept = KeptMeaning.objects.filter(shape=shape).first()
    if kept is None:
        name = "".join(filter(str.isprintable, name))[:SHEET_NAME_LENGTH]
        KeptMeaning.objects.create(shape=shape, sheet=name or "a sheet", said=said, recorded_by=by)
    elif kept.said != said:
        kept.correct(by=by, reason=BECAUSE, said=said)
