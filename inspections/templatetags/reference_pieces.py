"""Reference pieces on other rooms' pages: `{% load reference_pieces %}`, then

{% pieces_first %}  {% pieces_first mat %}   the pieces to read before anything else, each with its form
{% unlinked_benches on %}                    a sentence where benches are not linked by a reference piece, else nothing
{% unlinked_benches on ids %}                of these instruments alone (their keys)
"""

from django import template

from fleet.access import MAY_KEEP

from ..bench.pieces.forms import PieceReadingForm
from ..bench.pieces.linked_selectors import unlinked_instruments
from ..bench.pieces.selectors import is_piece_kept, pieces_to_read
from ..bench.session import has_said_how, remembered_bench

register = template.Library()


@register.inclusion_tag("inspections/bench/pieces/_first.html", takes_context=True)
def pieces_first(context, mat=None):
    """For the day and the instrument that the session remembers; nothing where nobody keeps a piece.

    Where the page has a form of its own that was sent and refused, that one is not to be lost: none is offered here.
    """
    request, on = context["request"], context["on"]
    bench = remembered_bench(request, on)
    pieces = pieces_to_read(on, bench["measured_on"], bench["instrument"], mat and mat.depot_id)
    sent = getattr(context.get("form"), "is_bound", False)
    forms = PieceReadingForm.several([shown.piece.pk for shown, _ in pieces], initial=bench, on=on)
    made = [(shown, reads, form) for (shown, reads), form in zip(pieces, forms, strict=True)]
    unread = [shown for shown, reads in pieces if not reads]
    # the next one to read, where the page is about nothing else, and above the first mat of a session
    opened = unread[0] if unread and (mat is None or not has_said_how(request)) else None
    day = {"on": on, "measured_on": bench["measured_on"]}
    lacks = mat is not None and mat.depot_id and not pieces and is_piece_kept(on)
    day |= {"none_here": mat.depot if lacks else None, "may_keep": request.user.has_perm(MAY_KEEP)}
    return {"pieces": made, "sent": sent, "opened": opened, "request": request, **day}


@register.inclusion_tag("inspections/bench/pieces/_unlinked.html")
def unlinked_benches(on, instrument_ids=None):
    found = unlinked_instruments(on)
    return {"unlinked": found.among(instrument_ids) if found and instrument_ids is not None else found}
