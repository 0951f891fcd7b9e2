"""From checks to lives, each kind by hand."""

import numpy as np
import pytest

from inspections.numeric.lives.checks import lives_of_checks
from inspections.numeric.lives.records import Lives

IN, OVER, OPEN = "within", "over", "undecided"
INF = np.inf

# checks as (age, verdict), and the life that they show
KINDS = [
    ([], (0, INF)),
    ([(1, IN), (2, IN)], (2, INF)),
    ([(1, IN), (2, OVER), (3, OVER)], (1, 2)),
    # nothing sure in between: the span is wider, not the life over
    ([(1, IN), (2, OPEN), (3, OVER)], (1, 3)),
    ([(1, OPEN), (2, OPEN)], (0, INF)),
    ([(2, OVER)], (0, 2)),
    # a later look stands
    ([(1, IN), (2, OVER), (3, IN)], (3, INF)),
    ([(1, OVER), (2, IN), (3, OVER)], (2, 3)),
    # before it was fitted
    ([(-0.5, IN), (1, OVER)], (0, 1)),
    ([(1, "")], (0, INF)),
]


@pytest.mark.parametrize(("checks", "span"), KINDS)
def test_checks_show_a_life(checks, span):
    age, verdict = [age for age, _ in checks], np.array([word for _, word in checks], object)
    found = lives_of_checks(np.zeros(len(checks), int), age, verdict, 1)
    assert (found.low[0], found.high[0]) == span
    assert found.checks[0] == sum(word in (IN, OVER) for word in verdict)


def test_a_clock_that_stood_still_goes_by_the_order_of_looks():
    """Within at 12 events and over at 12, on the shelf between: it went over by the thirteenth."""
    life, verdict = np.zeros(2, int), np.array([IN, OVER], object)
    found = lives_of_checks(life, [12, 12], verdict, 1, when=[100, 200], step=1)
    assert (found.low[0], found.high[0], found.taken_back[0]) == (12, 13, False)
    found = lives_of_checks(life, [12, 12], verdict, 1, when=[200, 100], step=1)
    assert (found.low[0], found.high[0], found.taken_back[0]) == (12, INF, True)


def test_an_over_that_a_within_followed_is_named():
    life, age, verdict = np.array([1, 0, 1, 2]), [1, 1, 2, 3], np.array([OVER, OVER, IN, IN], object)
    assert lives_of_checks(life, age, verdict, 3).taken_back.tolist() == [False, True, False]


def test_a_life_that_contradicts_itself_is_refused():
    for low, high in ((2, 1), (0, 0), (INF, INF)):
        with pytest.raises(ValueError, match="ends before"):
            Lives.of([low], [high])


def test_what_is_watched_late_was_within_by_then():
    lives = Lives.of([0.0, 3.0], [5.0, INF], entry=[2.0, 1.0])
    assert lives.low.tolist() == [2.0, 3.0]
    assert lives.watched_until == 5
    assert lives.watched_at([1, 3, 4]).tolist() == [2, 2, 1]
