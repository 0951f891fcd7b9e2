import pytest
from django.core.exceptions import ValidationError
from hypothesis import example, given
from hypothesis import strategies as st

from fleet.intake.kinds import DAY, NUMBER, NUMBERS, WHOLE, guarded, unguarded

FORMULA_STARTS = "=+-@\t\r'"


@given(st.text(st.characters(exclude_categories=["Cs"])) | st.text(FORMULA_STARTS))
@example("'")
@example("''=")
@example("'as is'")
def test_a_text_comes_back_as_it_went_out(text):
    assert unguarded(guarded(text)) == text


@given(st.sampled_from(FORMULA_STARTS), st.text())
def test_no_text_goes_out_as_a_formula(first, rest):
    assert guarded(first + rest) == f"'{first}{rest}"


def test_exactly_one_quote_is_taken_away_and_only_before_what_was_guarded():
    written = ["'=1+1", "''=", "'a", "a'", "'", "=1", "'-3 dB", "' "]
    assert [unguarded(text) for text in written] == ["=1+1", "'=", "'a", "a'", "'", "=1", "-3 dB", "' "]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_comes_back_to_the_last_bit(number):
    assert NUMBER.read(NUMBER.write(number), False) == number


@pytest.mark.parametrize("text", ["1.31", " 1.31 ", "+1.31", "131e-2"])
def test_numbers_are_written_with_a_point(text):
    assert NUMBER.read(text, False) == 1.31


@pytest.mark.parametrize("text", ["1,31", "1.31", "-1,31"])
def test_a_decimal_comma_is_understood_between_semicolons(text):
    assert abs(NUMBER.read(text, True)) == 1.31
    assert NUMBERS.read("0,5 1,0", True) == [0.5, 1.0]


@pytest.mark.parametrize("text", ["1,31", "nan", "inf", "1e400", "-1e400", "1.3.1", "1_000", "0x10", "=1", "'1", "١"])
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(ValidationError, match=r"a number such as 1\.31"):
        NUMBER.read(text, False)


@pytest.mark.parametrize("text", ["1,3,1", "1.310,5", "1,310.5"])
def test_a_comma_that_parts_thousands_is_refused(text):
    with pytest.raises(ValidationError):
        NUMBER.read(text, True)


def test_whole_numbers_may_carry_a_spreadsheet_s_point():
    assert [WHOLE.read(text, False) for text in ("4", "4.0", " 4 ")] == [4, 4, 4]
    for text in ("4.5", "-4", "four", "9" * 40):
        with pytest.raises(ValidationError):
            WHOLE.read(text, False)


@pytest.mark.parametrize("text", ["02.05.2026", "2026-5-2", "2026-02-30", "20260502", "2026-05-02T00:00", "2026-13-01"])
def test_days_are_iso_and_in_the_calendar(text):
    with pytest.raises(ValidationError, match="a day "):
        DAY.read(text, False)
