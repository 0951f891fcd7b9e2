"""A load or a run of *Start here* is taken back whole, in one transaction that has the pool to itself."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.figures import short_day
from fleet.models import Load
from fleet.services.bulk_deleting import delete_in_bulk
from fleet.services.load_corrections import correct_rows, settle_days, settle_rest
from fleet.services.locks import hold_pool
from fleet.services.races import race_refused
from fleet.services.shelf_of_segments import follow_whole_register
from fleet.signals import wear_changed

from .load_selectors import PARTS, taking_back

TAKEN_SINCE = "Something that was entered since stands where the load corrected something. Nothing is taken back."


@transaction.atomic
def take_back(load, *, by, on, reason, follows=None):
    """Delete all that the load brought, restore what it corrected, the trail kept, and assess the pool once.

    Returns what was said beforehand. `follows`: the mark of what the person was told. ValidationError where something
    stands against it, where something else follows by now, and where somebody took it back already.
    """
    hold_pool()
    load = Load.objects.select_related("taken_back_by").get(pk=load.pk)
    refuse_taken_back(load)
    look = taking_back(load)
    if look.stands:
        sentences = [standing.sentence for standing in look.stands]
        raise ValidationError([*sentences, "Nothing is taken back: this stands against it."])
    if follows not in (None, look.mark):
        raise ValidationError("Somebody else changed something meanwhile. Look at it again.")
    with race_refused(TAKEN_SINCE):
        _delete_and_restore(look, by, on, reason)
    load.taken_back_at, load.taken_back_by = timezone.now(), by
    load.save(update_fields=["taken_back_at", "taken_back_by"])
    follow_whole_register(by=by, on=on, note=reason)
    wear_changed.send(Load, segment_ids=None, on=on)
    return look


def _delete_and_restore(look, by, on, reason):
    restored = []
    for model, rows in look.going.items():
        if model in PARTS:
            rows._raw_delete(rows.db)
        else:
            delete_in_bulk(rows, by=by, reason=reason)
        # after the rows that took the place of what is restored, before those that it pointed to
        changes = {each.row.pk: each.before for each in look.restored.get(model, ())}
        restored += correct_rows(model, changes, by=by, reason=reason)
    settle_days(restored)
    settle_rest(restored, by=by, on=on)


def refuse_taken_back(load):
    if load.taken_back_at:
        day = timezone.localdate(load.taken_back_at)
        raise ValidationError(f"{load.taken_back_by or 'Somebody'} took it back on {short_day(day)} already.")
