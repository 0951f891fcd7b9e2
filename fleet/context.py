"""What every page may ask for by name; the database is asked once, and only if a page asks."""

from django.utils.functional import SimpleLazyObject

from .selectors.mats import several_depots
from .selectors.pool import pool_uid


def depots(request):
    """`several_depots`: a single depot is not shown."""
    return {"several_depots": SimpleLazyObject(several_depots)}


def pool(request):
    """`pool_uid`: what a phone keeps for this pool is sent to no other."""
    return {"pool_uid": SimpleLazyObject(pool_uid)}
