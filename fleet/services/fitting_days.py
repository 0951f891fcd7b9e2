"""The day on which cables were fitted, told afterwards for whole mats at once."""

from collections import defaultdict

from django.core.exceptions import ValidationError
from django.db.models import Q

from ..figures import short_day
from ..models import CableSegment, Fitting, Mat
from ..selectors.seen import version_of
from ..signals import wear_changed
from .confirmation import weighed
from .corrections import correct_alike
from .locks import hold_all
from .races import race_refused
from .rows import check_day

NAMED = 5


def tell_fitting_day(fittings, *, seen, by, on, fitted_on, basis, reason="", confirmed=None):
    """Correct day and basis of these fittings, all or none; returns those that said something else.

    `seen`: `version_of` each fitting as the page showed it. Raises ValidationError for a day ahead, where a position
    or a cable was taken on that day, and where somebody changed one of the fittings since; WantsConfirmation where
    much follows for other cables; `confirmed` as in `weighed`.
    """
    with race_refused("Somebody else has just changed one of these cables. Look again."):
        fittings = _held(fittings)
        _check_seen(fittings, seen)
        check_day("when", fitted_on, on, "day of fitting")
        changed = [row for row in fittings if (row.fitted_on, row.fitted_basis) != (fitted_on, basis)]
        _check_free(changed, fitted_on)
        segments = [row.segment for row in changed]
        with weighed(*segments, on=on, confirmed=confirmed):
            correct_alike(changed, by=by, reason=reason, fitted_on=fitted_on, fitted_basis=basis)
        wear_changed.send(Fitting, segment_ids=[segment.pk for segment in segments], on=on)
    return changed


def _held(fittings):
    """The fittings as they are once nobody else can change them."""
    hold_all(CableSegment.objects.filter(pk__in={row.segment_id for row in fittings}))
    hold_all(Mat.objects.filter(pk__in={row.mat_id for row in fittings}))
    return hold_all(Fitting.objects.filter(pk__in={row.pk for row in fittings}).select_related("segment", "mat"))


def _check_seen(fittings, seen):
    changed = sorted({str(row.mat) for row in fittings if version_of(row) not in seen})
    if changed:
        sentence = f"Somebody else changed this meanwhile: the cables of {', '.join(changed[:NAMED])}."
        raise ValidationError(f"{sentence} They stand below as they are now. Look again.", code="stale")


def _check_free(fittings, fitted_on):
    """In its position, and nowhere else, each cable was the only one from that day on."""
    by_segment, by_place = _other_fittings(fittings, fitted_on)
    taken = {}
    for row in fittings:
        taken |= {other.pk: other for other in by_segment[row.segment_id]}
        taken |= {
            other.pk: other for other in by_place[row.mat_id, row.position] if other.overlaps(fitted_on, row.removed_on)
        }
    if taken:
        said = [_was_there(other) for other in taken.values()]
        raise ValidationError({"when": [*said[:NAMED], "Write a later day, or leave that mat out."]})


def _other_fittings(fittings, fitted_on):
    """Those that last beyond that day or begin on it, by segment, and by mat and position."""
    around = Q(segment__in={row.segment_id for row in fittings}) | Q(mat__in={row.mat_id for row in fittings})
    later = Q(removed_on=None) | Q(removed_on__gt=fitted_on) | Q(fitted_on=fitted_on)
    others = Fitting.objects.filter(around, later).exclude(pk__in={row.pk for row in fittings})
    by_segment, by_place = defaultdict(list), defaultdict(list)
    for other in others.select_related("segment", "mat"):
        by_segment[other.segment_id].append(other)
        by_place[other.mat_id, other.position].append(other)
    return by_segment, by_place


def _was_there(fitting):
    until = f" to {short_day(fitting.removed_on)}" if fitting.removed_on else ""
    return f"{fitting.segment} was in {fitting.mat} position {fitting.position} from {fitting.since}{until}."
