"""What is checked before segments are fitted: refused, asked about, or only said."""

from django.core.exceptions import ValidationError

from ..figures import short_day, two_places
from ..selectors.faults import faults_it_came_out_with, open_faults_of_segment
from .confirmation import WantsConfirmation

# of the position's length: what a cable cut to size may be off
MOST_OFF = 0.1


class DiffersFromPosition(WantsConfirmation):
    """Cables of a length or type that their positions are not meant for. This can be right: confirmed, they are fitted.

    `differs`: pairs of a position and its sentences.
    """

    def __init__(self, mat, differs):
        points = [sentence for _, sentences in differs for sentence in sentences]
        what = [part for position, sentences in differs for part in (f"{mat} {position}", *sentences)]
        one = len(differs) == 1
        named = (
            "This is not the cable that the position is" if one else "These are not the cables that the positions are"
        )
        message = f"{named} for. Choose another, or say that it is meant."
        super().__init__(message, "differs", what, points=points, tick=f"It is meant: fit {'it' if one else 'them'}")


def refuse_twice(segments):
    """A segment goes into one position."""
    named = set()
    for segment in segments:
        if segment.pk in named:
            raise ValidationError({"segment": f"{segment} is named for two positions. It is one cable: look again."})
        named.add(segment.pk)


def check_may_fit(segment, mat, position, fitted_on):
    """The position of the design that it goes into."""
    specified = mat.design.positions.select_related("cable_type").filter(number=position).first()
    if specified is None:
        raise ValidationError(
            f"{mat.at_start} has no position {position}: its design {mat.design} has no such position."
        )
    for row, field in ((mat, None), (segment, "segment")):
        if row.withdrawn_on is not None:
            why = row.withdrawal_reason or "no reason given"
            sentence = f"{row.at_start} was withdrawn on {short_day(row.withdrawn_on)}: {why}."
            raise ValidationError({field: sentence} if field else sentence)
    faults = list(open_faults_of_segment(segment, fitted_on))
    if faults:
        raise ValidationError({"segment": f"{segment} has an open fault: {faults[0]}. Close that first."})
    return specified


def differences(mat, fits, specified, confirmed):
    """Remarks on what is not as each position asks; what is asked about needs no remark beside it."""
    found = [_difference(fit.segment, place) if place else ([], []) for fit, place in zip(fits, specified, strict=True)]
    if confirmed is None:
        return [much + little for much, little in found]
    asked = [(fit.position, much) for fit, (much, _) in zip(fits, found, strict=True) if much]
    if asked:
        DiffersFromPosition(mat, asked).raise_unless(confirmed)
    return [little for _, little in found]


def _difference(segment, specified):
    """(what is asked about, what is only said)"""
    much, little = [], []
    off_m = abs(segment.length_m - specified.length_m)
    if off_m:
        long_m, for_m = two_places(segment.length_m), two_places(specified.length_m)
        lengths = f"{segment} is {long_m} m long, its position is for {for_m} m."
        differs = much if off_m > MOST_OFF * specified.length_m else little
        differs.append(f"{lengths} Its own length counts.")
    if segment.cable_type_id != specified.cable_type_id:
        differs = little if segment.cable_type.is_assumed or specified.cable_type.is_assumed else much
        differs.append(f"{segment} is cut from {segment.cable_type}, its position is for {specified.cable_type}.")
    return much, little


def past_damage(segment):
    """Remarks on faults that it was once taken out with."""
    for fault in faults_it_came_out_with(segment):
        yield f"{segment} was once taken out with a fault ({fault}): look at it before it goes out."
