"""Checks of single values, used alike by models, forms, files and sweeps."""

import math
import re

from django.core.exceptions import ValidationError

from .choices import SETTINGS

UNLIKELY_LOSS_DB = 20
NO_THROUGH = "no through"
_TYPED = re.compile(r"[-+\u2212]?(\d+([.,]\d*)?|[.,]\d+)")


def check_loss_db(value):
    """A loss in dB: finite, not negative, and a number that a cable can have (below 200)."""
    if value is None or not math.isfinite(value) or not 0 <= value < 200:
        raise ValidationError("A loss is a number of dB from 0 up, such as 1.31.", code="loss")


def check_frequency_mhz(value):
    if value is None or not math.isfinite(value) or not 1 <= value <= 10_000:
        raise ValidationError("A frequency is a number of MHz, such as 900.", code="frequency")


def check_temperature_c(value):
    if value is None or not math.isfinite(value) or not -40 <= value <= 70:
        raise ValidationError("A temperature is a number of °C between -40 and 70.", code="temperature")


def parse_loss(text):
    """What was typed for a loss: a number of dB, or NO_THROUGH.

    `1,31`, `1.31 dB`, `-1.31` mean 1.31 (a loss is positive, an analyser shows it negative).
    Above UNLIKELY_LOSS_DB the number is returned as it is; the form asks for a confirmation.
    """
    plain = " ".join(str(text).split()).lower()
    if plain in (NO_THROUGH, "no", "nothrough", "open", "none"):
        return NO_THROUGH
    number = plain.removesuffix("db").strip()
    if not _TYPED.fullmatch(number):
        raise ValidationError(f"“{text}” is not a loss: write a number of dB such as 1.31, or no through.", code="loss")
    loss_db = abs(float(number.replace(",", ".").replace("\u2212", "-")))
    check_loss_db(loss_db)
    return loss_db


def check_setting(name, value):
    """A policy value within the range of its setting; whole where the setting is whole."""
    setting = SETTINGS.get(name)
    if setting is None:
        raise ValidationError(f"“{name}” is not a setting. Settings: {', '.join(SETTINGS)}.", code="setting")
    if value is None or not math.isfinite(value) or not setting.lowest <= value <= setting.highest:
        raise ValidationError(
            f"{setting.label}: write a number from {setting.lowest:g} to {setting.highest:g}.", code="range"
        )
    if setting.whole and value != int(value):
        raise ValidationError(f"{setting.label}: write a whole number.", code="whole")
