"""Whether the trend agrees with what checks saw: no more is said than was seen."""

import pytest

from inspections.numeric.lives.agreement import Agreement
from inspections.templatetags.agreement_text import checks_against_trend


@pytest.mark.parametrize(
    ("low", "high", "p_value", "said"),
    [
        (0.6, 1.8, 0.5, "The trend agrees with what checks saw: 497 cables were checked, and went over 1.1 times"),
        (0.4, 1.8, 0.5, "What checks saw does not contradict the trend, but shows little: 497 cables were checked"),
        (0.6, 2.5, 0.5, "What checks saw does not contradict the trend, but shows little"),
        (0.6, 1.8, 0.01, "The trend does not agree with what checks saw"),
    ],
)
def test_to_agree_says_something_only_where_much_else_is_ruled_out(low, high, p_value, said):
    assert checks_against_trend(Agreement(497, 1.1, low, high, 0.2, 0.1, p_value)).startswith(said)
