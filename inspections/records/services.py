"""Records of mats: made once, kept as printed, withdrawn with a reason."""

from django.db import transaction

from fleet.services.locks import hold_pool
from fleet.services.rows import check_day, withdraw_row

from ..models import MatRecord


@transaction.atomic
def make_record(mat, content, *, by, on, from_on=None, made_for=""):
    """Keep what a record says of the time `from_on` (None: all) to `on`, under the next number of the year."""
    hold_pool()
    if from_on is not None:
        check_day("from_on", from_on, on, "first day of the record")
    number = f"R-{on.year}-{MatRecord.objects.highest_running(f'R-{on.year}-') + 1}"
    told = {"from_on": from_on, "until_on": on, "made_for": made_for.strip(), "content": content}
    record = MatRecord(number=number, mat=mat, recorded_by=by, **told)
    record.full_clean()
    record.save()
    return record


@transaction.atomic
def withdraw_record(record, *, by, on, reason, seen_version=None):
    """It stays as it was printed, marked as withdrawn with the reason."""
    return withdraw_row(record, by=by, on=on, reason=reason, seen_version=seen_version)
