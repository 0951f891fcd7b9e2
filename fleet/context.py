"""What every page may ask for by name; asked of the database when a page does, once."""

from django.utils.functional import SimpleLazyObject

from .selectors.mats import several_depots


def depots(request):
    """`several_depots`: one depot alone stays out of sight."""
    return {"several_depots": SimpleLazyObject(several_depots)}
