"""Answers of a batch in words: `{% load batch_text %}`, then

{{ cable.answer|batch_mark }}  {{ cable|batch_why:page }}  {{ cable|batch_why_short }}  {{ page|judged_by }}
"""

from django import template

from ..numeric.batches import ENOUGH
from ..numeric.words import BatchAnswer, Unlike, Verdict
from .figures import figure, spread, two_places
from .piece_text import withheld_text

register = template.Library()
_MARKS = {BatchAnswer.FIT: "ok", BatchAnswer.NOT: "change-now", BatchAnswer.AGAIN: "measure"}
_UNLIKE = {
    Unlike.FRESH: "more than a fresh one reads",
    Unlike.ABOVE: "more than the others of this batch",
    Unlike.BELOW: "less than the others of this batch (another length, or not connected through)",
}


@register.filter
def batch_mark(answer):
    """The status whose mark the answer carries."""
    return _MARKS.get(answer, "unknown")


@register.filter
def batch_why_short(cable):
    """Why the answer is not simply that of a number against the limit."""
    return "; ".join(filter(None, [_why(cable), _repeated(cable)]))


@register.filter
def batch_why(cable, page):
    """What the answer rests on, with the numbers beside it."""
    judgement, limit = cable.newest.judgement, f"limit {figure(page.criteria.limit_db)} dB"
    if judgement.reference_loss_db is None:
        return "; ".join(filter(None, [_why(cable), _repeated(cable), limit]))
    read = f"{two_places(judgement.reference_loss_db)} ± {spread(judgement.uncertainty_db)} dB"
    return "; ".join(filter(None, [read, limit, _why(cable), _repeated(cable)]))


def _why(cable):
    judgement = cable.newest.judgement
    if judgement.withheld:
        return withheld_text(judgement.withheld)
    if judgement.verdict == Verdict.OVER:
        return "over the limit"
    if cable.unlike:
        return _UNLIKE[cable.unlike]
    if judgement.go_no_go and judgement.undecided:
        return "the tester is not set to a limit that decides"
    if judgement.undecided:
        return "too close to the limit"
    return "" if judgement.compared else f"too far from {figure(judgement.reference_mhz)} MHz to be compared"


def _repeated(cable):
    if not cable.before:
        return ""
    times = "twice" if len(cable.reads) == 2 else f"{len(cable.reads)} times"
    return f"read {times}, the newest counts"


@register.filter
def judged_by(page):
    """Sentences: the limit, what fresh ones read, the others of the batch."""
    return [_limit(page), *(_as_new(page) if page.batch.is_new else [_AS_USED])]


_AS_USED = "Used cables are judged by the limit alone: what a fresh one reads says nothing of them."
_UNKNOWN = "What a fresh one of this type reads is not known: too few were measured, and its cable is not known."


def _limit(page):
    sure = "" if page.uncertainty_db is None else f", standard uncertainty {spread(page.uncertainty_db)} dB"
    at = f"{figure(page.criteria.reference_mhz)} MHz and 20 °C"
    limit = f"The pool’s loss limit: {figure(page.criteria.limit_db)} dB at {at}{sure}."
    return f"{limit} Over: not. Too close to the limit: measure again."


def _as_new(page):
    return [_fresh(page.fresh, page.most_of_fresh_db), _own(page.own)]


def _fresh(fresh, most_db):
    if fresh is None or fresh.expected_db is None:
        return _UNKNOWN
    source = f"the median of {fresh.ones} fresh ones" if fresh.ones else "calculated from length and cable type"
    reads = f"A fresh one reads {two_places(fresh.expected_db)} dB ({source})."
    if most_db is None:
        return reads
    return f"{reads} Above {two_places(most_db)} dB it is unlike one: measure again, and not when it is so twice."


def _own(own):
    if not own.known:
        return f"From {ENOUGH} cables on, each is held against the median of this batch, too."
    span = f"{two_places(max(own.least_db, 0))} to {two_places(own.most_db)} dB"
    unlike = "it is unlike the others: measure again, and not when it is so twice."
    return f"Median of this batch: {two_places(own.median_db)} dB. Outside {span} {unlike}"
