"""What *Start here* was told the last time."""

from django.db.models import Sum

from ..choices import LengthBasis, LoadSource
from ..models import Load, Mat


def last_run():
    """The Load of the last run that stands; None where there is none."""
    return Load.objects.filter(source=LoadSource.START_HERE, taken_back_at=None).first()


def kind_told_last():
    """What the form of a kind of mat said in the last run that stands: {field: value}; empty where there was none."""
    load = last_run()
    mat = load and Mat.objects.filter(load=load).select_related("design").order_by("pk").last()
    places = list(mat.design.positions.order_by("number")) if mat else []
    if not places:
        return {}
    times = mat.usage_events.usual().filter(load=load).aggregate(times=Sum("counts_for"))["times"]
    told = {"width_m": mat.design.width_m, "cables": len(places), "lengths_m": _spelled(places), "times_a_year": times}
    estimated = any(place.length_basis == LengthBasis.ESTIMATED for place in places)
    return told | ({"filled_in": _spelled(places, other_where_known=True)} if estimated else {})


def _spelled(places, *, other_where_known=False):
    """The lengths as the field takes them; with `other_where_known` a length that was measured is another one."""
    known = {place.number for place in places if place.length_basis == LengthBasis.KNOWN} if other_where_known else ()
    return " ".join(f"{place.length_m + (place.number in known):.12g}" for place in places)
