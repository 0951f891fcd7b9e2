"""What was said of sheets is kept for the next of their shapes."""

from django.db import transaction

from fleet.services.locks import hold_pool

from ...models import KeptMeaning
from ...models.sheet_meanings import SHEET_NAME_LENGTH

BECAUSE = "Said anew for a file"


@transaction.atomic
def keep_meanings(said, *, by):
    """Keep {shape: (name of a sheet of this shape, what was said)}; what was said before is corrected."""
    hold_pool()
    stored = {kept.shape: kept for kept in KeptMeaning.objects.filter(shape__in=said)}
    for shape, (name, meaning) in said.items():
        if shape not in stored:
            _keep(shape, name, meaning, by)
        elif stored[shape].said != meaning:
            stored[shape].correct(by=by, reason=BECAUSE, said=meaning)


def _keep(shape, name, meaning, by):
    name = "".join(filter(str.isprintable, name)).strip()[:SHEET_NAME_LENGTH]
    KeptMeaning.objects.create(shape=shape, sheet=name or "a sheet", said=meaning, recorded_by=by)
