"""Work orders for all that is due of a depot, or of all, in one go."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.services.locks import hold_pool

from .bulk_selectors import all_due
from .services import raise_work_orders

CHANGED = "What is due changed meanwhile. Look at the numbers once more, then raise the orders."


@transaction.atomic
def raise_all_due(depot, *, by, on, seen, **given):
    """One work order for each mat of the depot (None: of all) with something due that stands on no order in force.

    `seen`: the mark of what the person was shown; anything else now, and nothing is raised. Returns (orders, number of
    cables).
    """
    hold_pool()
    due = all_due(depot, on)
    if due.mark != seen:
        raise ValidationError(CHANGED, code="changed")
    return raise_work_orders(due.segment_ids, by=by, on=on, **given), len(due.segment_ids)
