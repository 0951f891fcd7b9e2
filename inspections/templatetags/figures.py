"""Days and numbers as every page, sheet and sentence shows them: `{% load figures %}`, then

{{ day|short_day }}  {{ day|day_ahead:on }}  {{ day|day_by_name:on }}  {{ day|how_long_before:on }}  {{ day|ago:on }}
{{ length_m|figure }}  {{ loss_db|two_places }}  {{ residual_db|signed }}  {{ sd_db|spread }}
{{ chance|percent }}  {{ accepted|risk }}  {{ value|tick }}
"""

from datetime import date

from django import template
from django.utils.formats import date_format

from fleet.figures import day_ahead, figure, percent, risk, short_day, two_places
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.durations import months_in_words

register = template.Library()
for each in (short_day, day_ahead, figure, two_places, risk, percent):
    register.filter(each)


@register.filter
def day_by_name(day, on):
    """today, tomorrow, Saturday; further away the date."""
    days = (day - on).days
    if days in (0, 1):
        return ("today", "tomorrow")[days]
    return date_format(day, "l") if 1 < days < 7 else short_day(day)


@register.filter
def how_long_before(day, on):
    """Whole days below two months, months below two years, then years; floored."""
    days = (on - day).days
    if days == 0:
        return "today"
    if days < 61:
        return counted(days, "day")
    months = (on.year - day.year) * 12 + on.month - day.month - (on.day < day.day)
    return counted(months, "month") if months < 24 else counted(months // 12, "year")


def years_and_months(years):
    """A time of whole months, given in years."""
    return months_in_words(round(MONTHS_A_YEAR * years))


@register.filter
def ago(day, on):
    return "today" if day == on else f"{how_long_before(day, on)} ago"


@register.filter
def tick(value):
    """What stands at the tick of an axis: a number; the first day of a month as 2026 or May 2026; text as it is."""
    if isinstance(value, date):
        return f"{value:%Y}" if value.month == 1 else f"{value:%b %Y}"
    return value if isinstance(value, str) else figure(value)


@register.filter
def spread(sd_db):
    """A standard deviation beside a loss: never nothing."""
    return "" if sd_db is None else f"{max(sd_db, 0.01):.2f}"


@register.filter
def signed(number):
    # adding nought turns −0.00 into +0.00
    return f"{round(number, 2) + 0.0:+.2f}".replace("-", "\N{MINUS SIGN}")


def counted(number, word):
    return f"{number:g} {word}{'' if number == 1 else 's'}"


@register.filter
def decibels(sd_db):
    """A small loss with as many places as it needs: `0.10 dB`, below a hundredth `0.004 dB`; '' where it is nothing."""
    if sd_db < 0.0005:
        return ""
    return f"{sd_db:.2f} dB" if sd_db >= 0.0095 else f"{sd_db:.3f} dB"
