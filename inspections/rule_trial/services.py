"""The rules of a trial, played one after the other: a page shows those that are done, and comes back for the rest.

What came of a rule is kept in the process that played it, by all that it was made of. Nothing is stored: after a
start, or in another process, it is played again, to the same numbers.
"""

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from time import monotonic

import numpy as np

from ..numeric.rule_trial.answers import RuleAnswer, answer_of
from .question_services import TODAY, RuleName

# outcomes of rules, some trials of them; each is a few kilobytes
KEPT = 256
# a page plays rules for so long before it shows how far it is
SECONDS_A_PAGE = 1.0
ALL_OF_IT = float("inf")

_kept, _lock = OrderedDict(), Lock()


@dataclass(frozen=True)
class Played:
    """`answers`: (RuleName, RuleAnswer) of the rules that are done, in their order; `waiting`: how many are not."""

    answers: tuple[tuple[RuleName, RuleAnswer], ...]
    waiting: int

    @property
    def done(self):
        return len(self.answers)

    @property
    def of(self):
        return self.done + self.waiting


def played(question, seconds=None):
    """Played of a Question: rules are played until so many seconds are over (None: a page's), one at the least."""
    seconds = SECONDS_A_PAGE if seconds is None else seconds
    start, outcomes, done_now = monotonic(), {}, 0
    for name in question.rules:
        outcome = _kept_outcome(question, name)
        if outcome is None:
            if done_now and monotonic() - start > seconds:
                break
            outcome, done_now = _play(question, name), done_now + 1
        outcomes[name] = outcome
    today = outcomes[RuleName(TODAY)]
    answers = ((name, answer_of(found, today, question.events)) for name, found in outcomes.items())
    return Played(tuple(answers), len(question.rules) - len(outcomes))


def forget():
    """Nothing is kept any longer."""
    with _lock:
        _kept.clear()


def _play(question, name):
    outcome = question.play(name)
    with _lock:
        _kept[_key(question, name)] = outcome
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    return outcome


def _kept_outcome(question, name):
    key = _key(question, name)
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
        return _kept.get(key)


def _key(question, name):
    rule = question.rules[name]
    return question.key, type(rule), *(np.asarray(value).tobytes() for value in vars(rule).values())
