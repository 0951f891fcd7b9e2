"""What every page may ask for by name; the database is asked once, and only if a page asks."""

from django.utils.functional import SimpleLazyObject

from .selectors.mats import several_depots


def depots(request):
    """`several_depots`: a single depot is not shown."""
    return {"several_depots": SimpleLazyObject(several_depots)}
