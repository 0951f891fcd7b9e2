"""Typed losses: the same rule for forms, models and files."""

import math

import pytest
from django.core.exceptions import ValidationError
from factories import make_segment
from hypothesis import given
from hypothesis import strategies as st

from inspections.limits import LARGEST_LOSS_DB
from inspections.models import Measurement
from inspections.validators import TypedLoss, check_loss_db, check_setting, parse_loss

NO_SIGNAL = TypedLoss(None, no_signal=True)


@pytest.mark.parametrize(
    "typed",
    ["1,31", "1.31", "-1.31", "1.31 dB", " 1.31 ", "1.31dB", "-1,31 db", "+1.31", "\u22121.31", "\t1.310\u00a0dB"],
)
def test_ways_to_type_1_31(typed):
    assert parse_loss(typed) == TypedLoss(1.31)


@pytest.mark.parametrize(
    "typed",
    [
        "131", "131 dB", "1.3.1", "1,3,1", "1.310,5", "1,310.5", "", " ", "nan", "inf", "-inf", "1e400", "1e0", "dB",
        ".", ",", "--1.31", "1 31", "1.31 m", "0x1", "1_0", "١٫٣", "9" * 400, "100", "=1.31",
    ],
)  # fmt: skip
def test_what_is_no_loss_is_refused(typed):
    with pytest.raises(ValidationError):
        parse_loss(typed)


@pytest.mark.parametrize("typed", ["no signal", "No Signal", " no  signal ", "no", "n", "N", "open"])
def test_ways_to_type_no_signal(typed):
    assert parse_loss(typed) == NO_SIGNAL


def test_a_loss_of_20_db_and_more_is_a_number_that_the_form_asks_about():
    losses = [parse_loss(typed) for typed in ("20", "20,5", "99.9", "no")]
    assert losses == [TypedLoss(20.0), TypedLoss(20.5), TypedLoss(99.9), NO_SIGNAL]
    assert [loss.is_unlikely for loss in losses] == [True, True, True, False]


def test_a_refusal_says_what_was_typed_and_what_to_write():
    with pytest.raises(ValidationError, match=r"“1\.3\.1” is not a loss: write a number of dB such as 1\.31"):
        parse_loss("1.3.1")


@given(
    st.floats(0, LARGEST_LOSS_DB, exclude_max=True),
    st.sampled_from([".", ","]),
    st.sampled_from(["", " dB", "dB", " "]),
)
def test_any_loss_written_out_comes_back_whatever_the_decimal_sign(loss_db, sign, end):
    text = f"{loss_db:.12f}".replace(".", sign) + end
    if float(f"{loss_db:.12f}") < LARGEST_LOSS_DB:
        assert parse_loss(text) == TypedLoss(float(f"{loss_db:.12f}"))
        assert parse_loss("-" + text) == TypedLoss(float(f"{loss_db:.12f}"))


@given(st.text())
def test_any_text_is_a_loss_or_refused_with_a_sentence(text):
    try:
        loss = parse_loss(text)
    except ValidationError as refusal:
        assert refusal.messages[0].endswith((".", "signal."))
    else:
        assert loss == NO_SIGNAL or (math.isfinite(loss.loss_db) and 0 <= loss.loss_db < LARGEST_LOSS_DB)


@pytest.mark.parametrize(("loss_db", "no_signal"), [(None, False), (1.31, True)])
def test_nothing_is_neither_a_loss_nor_no_signal(loss_db, no_signal):
    with pytest.raises(ValueError, match="one of them"):
        TypedLoss(loss_db, no_signal=no_signal)


@pytest.mark.parametrize("loss_db", [-0.1, 100, float("nan"), float("inf"), None])
def test_what_is_refused_in_a_form_is_refused_as_a_number_too(loss_db):
    with pytest.raises(ValidationError):
        check_loss_db(loss_db)


@pytest.mark.django_db
def test_the_model_refuses_what_the_form_refuses(on):
    with pytest.raises(ValidationError, match="loss is a number of dB"):
        Measurement(segment=make_segment(), measured_on=on, loss_db=131).full_clean()


@pytest.mark.parametrize(
    ("setting", "value", "says"),
    [
        ("loss_limit_db", 0.05, "Loss limit: write a number from 0.1 to 20."),
        ("age_limit_years", 0.05, "Age limit: write a number from 1/12 (one month) to 40, or 0 for no limit."),
        ("event_limit", 2.5, "Event limit: write a whole number."),
        ("loss_limit_db", float("nan"), "Loss limit: write a number from 0.1 to 20."),
        ("colour", 1, "“colour” is not a setting."),
    ],
)
def test_a_policy_value_outside_its_range_is_refused_with_the_range(setting, value, says):
    with pytest.raises(ValidationError) as refusal:
        check_setting(setting, value)
    assert refusal.value.messages[0].startswith(says)


def test_a_policy_value_on_the_edge_of_its_range_is_accepted():
    check_setting("loss_limit_db", 20)
    check_setting("age_limit_years", 1)
