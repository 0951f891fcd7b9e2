"""The instruments, and what was changed about them."""

from django.db.models import Count, Max
from django.shortcuts import get_object_or_404

from ...models import Instrument


def all_instruments():
    """Withdrawn ones too: their readings still count."""
    return Instrument.objects.annotate(readings=Count("measurements"), last_used_on=Max("measurements__measured_on"))


def get_instrument_or_404(name):
    return get_object_or_404(Instrument, name=name)
