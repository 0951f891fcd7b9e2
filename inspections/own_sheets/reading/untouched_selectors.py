"""Cables that the app made itself and of which nobody did or said anything since: they make room for a keeper's own."""

from django.db.models import Min, Q

from fleet.choices import SerialBasis
from fleet.models import CableSegment, Fitting

from ...deleting.load_selectors import changed_since
from ...models import Assessment, Measurement

# what follows from others, and what goes with the cable whatever it is called
_NAMES_NOTHING = (Fitting, Measurement, Assessment)


def untouched_cables():
    """{serial of such a cable: the first day on which it was read, None where it never was}; as many queries whatever
    the pool holds.

    Each has a running number of the app and its first place, and says what it said when it was made.
    """
    made = CableSegment.objects.filter(serial_basis=SerialBasis.GIVEN, withdrawn_on=None, fittings__removed_on=None)
    stays = Fitting.objects.filter(segment__in=made)
    moved = stays.filter(~Q(removed_on=None) | ~Q(moved_from=None) | ~Q(ended=None))
    made = made.exclude(pk__in=moved.values("segment"))
    for relation in CableSegment._meta.related_objects:
        if relation.related_model not in _NAMES_NOTHING:
            named = relation.related_model._base_manager.exclude(**{relation.field.name: None})
            made = made.exclude(pk__in=named.values(relation.field.name))
    changed = {row.segment_id for row in changed_since(stays)} | {row.pk for row in changed_since(made)}
    read = made.order_by().annotate(first_read=Min("measurements__measured_on"))
    return {serial: first for pk, serial, first in read.values_list("pk", "serial", "first_read") if pk not in changed}
