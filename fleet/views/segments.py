"""Cable segments: the list, add, correct, withdraw."""

from functools import partial
from urllib.parse import urlencode

from django.http import Http404
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from ..forms.record_forms import values_of
from ..forms.segments import SegmentAddForm, SegmentCorrectionForm, SegmentFilter
from ..parsing.whole_numbers import read_whole
from ..selectors.mats import depots_to_choose
from ..selectors.segments import (
    cable_types_of_segments,
    cable_types_to_choose,
    get_segment_or_404,
    segments_listed,
    trail_of_segment,
)
from ..services.register import add_segment, correct_segment, withdraw_segment
from ..tables.register import SegmentTable
from .pages import link_to, list_page
from .permissions import may_bench, may_keep
from .record_pages import add_page, correct_page, withdraw_page


def segment_list(request):
    on = timezone.localdate()
    form = SegmentFilter(request.GET, cable_types=cable_types_of_segments())
    return list_page(request, "fleet/segment_list.html", SegmentTable(segments_listed(on, **form.chosen())), form=form)


def segment_detail(request, serial):
    """Only names the path: the page of `inspections` at the same path comes first and shows the condition."""
    raise Http404


@may_bench
def segment_add(request):
    """Asked for a position (`mat`, `position`): length and type are filled in, and the cable goes there next."""
    on, asked = timezone.localdate(), request.GET
    initial = {name: asked.get(name, "") for name in ("serial", "cable_type", "length_m")}
    given = {"cable_types": cable_types_to_choose(on), "depots": depots_to_choose(on)}
    form = SegmentAddForm(request.POST or None, initial=initial, **given)
    act = partial(add_segment, by=request.user, on=on)
    return add_page(
        request, form, act, title="Add a cable", parent=_parent(), redirect_to=partial(_after_adding, asked)
    )


def _after_adding(asked, segment):
    try:
        fit = reverse("fleet:fit", args=[asked.get("mat", ""), read_whole(asked.get("position"))])
    except NoReverseMatch:
        return segment.get_absolute_url()  # asked for no position, or for none that can be
    return f"{fit}?{urlencode({'segment': segment.serial})}"


@may_keep
def segment_correct(request, serial):
    segment, on = get_segment_or_404(serial), timezone.localdate()
    form = SegmentCorrectionForm(
        request.POST or None,
        initial=values_of(segment, SegmentCorrectionForm),
        cable_types=cable_types_to_choose(on, segment.cable_type),
    )
    act = partial(correct_segment, segment, by=request.user, on=on)
    lead = "If its length or as-new loss changes, it is assessed again."
    return correct_page(request, segment, form, act, parent=_parent(), trail=trail_of_segment, lead=lead)


@may_keep
def segment_withdraw(request, serial):
    lead = "Scrapped or lost: it is no longer a spare."
    return withdraw_page(request, get_segment_or_404(serial), withdraw_segment, parent=_parent(), lead=lead)


def _parent():
    return link_to("fleet:segment-list", "Cables")
