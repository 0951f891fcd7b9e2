"""Which pool this is."""

from ..models import Pool


def pool_uid():
    """By which a phone tells this pool from others at the same address; "" before the first migrate."""
    uid = Pool.objects.values_list("uid", flat=True).first()
    return str(uid) if uid else ""
