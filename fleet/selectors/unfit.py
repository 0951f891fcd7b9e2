"""Which mats should not go to an event; what that rests on is known to the other app alone."""

from ..models import Mat
from ..signals import unfit_asked

MOST_NAMED = 8


def unfit_by(mats, day, *, on):
    """{primary key: why, printed in a few words} of those of these mats that should not go by that day."""
    mats = list(mats)
    answers = unfit_asked.send(Mat, mats=mats, day=day, on=on) if mats else []
    return {pk: why for _, answer in answers for pk, why in answer.items()}


def with_unfit(mats, day, *, on):
    """These mats as a list, each with `unfit`: why it should not go by that day, "" where it may."""
    mats = list(mats)
    unfit = unfit_by(mats, day, on=on)
    for mat in mats:
        mat.unfit = str(unfit.get(mat.pk, ""))
    return mats


def unfit_in_words(mats, day, *, on):
    """Those of these mats that should not go by that day, each with the reason: mat 3 (8 cables due), M-5 (wet)."""
    named = [f"{mat} ({mat.unfit})" for mat in with_unfit(mats, day, on=on) if mat.unfit]
    more = [f"{len(named) - MOST_NAMED} more"] if len(named) > MOST_NAMED else []
    return ", ".join(named[:MOST_NAMED] + more)
