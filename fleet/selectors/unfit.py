"""Which mats should not go to an event; what that rests on is known to the other app alone."""

from ..models import Mat
from ..signals import doubt_asked, unfit_asked

MOST_NAMED = 8


def unfit_by(mats, day, *, on):
    """{primary key: why, printed in a few words} of those of these mats that should not go by that day."""
    mats = list(mats)
    answers = unfit_asked.send(Mat, mats=mats, day=day, on=on) if mats else []
    return {pk: why for _, answer in answers for pk, why in answer.items()}


def with_unfit(mats, day, *, on):
    """These mats as a list, each with `unfit`: why it should not go by that day, "" where it may, and with `doubt`:
    what is not known of one that may, "" where nothing is in doubt.
    """
    mats = list(mats)
    unfit, doubts = unfit_by(mats, day, on=on), _doubts(mats, on)
    for mat in mats:
        mat.unfit = str(unfit.get(mat.pk, ""))
        mat.doubt = "" if mat.unfit else doubts.get(mat.pk, "")
    return mats


def unfit_first(usage_events, day, *, on):
    """These usage events, those of mats that should not go by that day first; each mat as `with_unfit`."""
    with_unfit([usage_event.mat for usage_event in usage_events], day, on=on)
    return sorted(usage_events, key=lambda usage_event: not usage_event.mat.unfit)


def _doubts(mats, on):
    answers = doubt_asked.send(Mat, mats=mats, on=on) if mats else []
    return {pk: doubt for _, answer in answers for pk, doubt in answer.items()}


def unfit_in_words(mats, day, *, on):
    """Those of these mats that should not go by that day, each with the reason: mat 3 (8 cables due), M-5 (wet)."""
    named = [f"{mat} ({mat.unfit})" for mat in with_unfit(mats, day, on=on) if mat.unfit]
    more = [f"{len(named) - MOST_NAMED} more"] if len(named) > MOST_NAMED else []
    return ", ".join(named[:MOST_NAMED] + more)
