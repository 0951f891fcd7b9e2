"""Ticks, weather and states as people write them in a list."""

import pytest

from fleet.parsing.log_words import read_state, read_weather, read_yes_no, says_nothing


@pytest.mark.parametrize("text", ["yes", "x", "X", "✓", "ja", "1", " Yes! "])
def test_ticks_are_yes(text):
    assert read_yes_no(text)


@pytest.mark.parametrize("text", ["", "no", "-", "nein", "0", "n/a"])
def test_empty_and_crossed_out_are_no(text):
    assert not read_yes_no(text)


@pytest.mark.parametrize(
    ("text", "weather"),
    [
        ("wet", "rain"),
        ("nass", "rain"),
        ("sun and showers", "rain"),
        ("Trocken", "dry"),
        ("drizzle", "damp"),
        ("snow / sunny", "snow"),
        ("?", ""),
        ("", ""),
    ],
)
def test_weather_in_own_words_and_of_several_the_wettest(text, weather):
    assert read_weather(text) == weather


@pytest.mark.parametrize(
    ("text", "state"),
    [("cancelled", "called off"), ("no", "called off"), ("geplant", "planned"), ("done", "went"), ("", None)],
)
def test_whether_a_mat_went(text, state):
    assert read_state(text) == state


@pytest.mark.parametrize("read", [read_yes_no, read_weather, read_state])
def test_other_words_are_refused_with_what_to_write(read):
    with pytest.raises(ValueError, match="write "):
        read("perhaps Tuesday")


def test_words_for_not_known_say_nothing():
    assert all(map(says_nothing, ["", " ? ", "n/a", "(unknown)", "unbekannt"]))
    assert not says_nothing("2021?")
