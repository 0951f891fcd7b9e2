"""Whether the instruments that a sample was read with can be compared: by reference pieces that were read with both."""

from ..models import Instrument, ReferenceReading


def unlinked_instruments(found):
    """Names of the instruments behind the shares, where no chain of common reference pieces links them all; else []."""
    used = {cable.instrument for mat in found.done for cable in mat.read} - {0}
    if len(used) < 2 or used <= _linked_with(min(used)):
        return []
    return list(Instrument.objects.filter(pk__in=used).values_list("name", flat=True))


def _linked_with(instrument):
    """Keys of all instruments that read a piece which this one, or one linked with it, has read; with itself."""
    pairs = set(ReferenceReading.objects.exclude(instrument=None).values_list("piece", "instrument").order_by())
    linked, pieces = {instrument}, None
    while pieces != (found := {piece for piece, other in pairs if other in linked}):
        pieces = found
        linked |= {other for piece, other in pairs if piece in pieces}
    return linked
