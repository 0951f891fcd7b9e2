"""What the database knows of a keeper's sheets: what was said of their shapes, and which codes there are."""

from dataclasses import dataclass

from fleet.models import CableSegment, Mat, MatDesign
from fleet.models.fields import code_key

from ...models import KeptMeaning


@dataclass(frozen=True)
class KnownCodes:
    """Keys of the mats, cables and designs that the pool has."""

    mats: frozenset = frozenset()
    segments: frozenset = frozenset()
    designs: frozenset = frozenset()


def kept_for(shapes):
    """{shape: what was said of it} of those shapes of which something was."""
    return dict(KeptMeaning.objects.filter(shape__in=shapes).values_list("shape", "said"))


def known_codes():
    """The KnownCodes of the pool."""
    fields = ((Mat, "number"), (CableSegment, "serial"), (MatDesign, "code"))
    return KnownCodes(*(frozenset(map(code_key, _codes(*field))) for field in fields))


def _codes(model, field):
    return model.objects.order_by().values_list(field, flat=True)
