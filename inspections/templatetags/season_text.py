"""The season in words: `{% load season_text %}{{ season|season_in_words }}`."""

from django import template

from .figures import counted, short_day

register = template.Library()


@register.filter
def season_in_words(season):
    """Of a Season: whether enough mats are fit, and in which weeks a planned one is not."""
    return " ".join(filter(None, [_enough(season), _not_fit(season)]))


def _enough(season):
    if not any(season.needed):
        return "No event is planned in these weeks."
    if season.short:
        return f"Too few mats are fit in {counted(len(season.short), 'week')}, first {_week(season, season.short[0])}."
    return f"Enough mats are fit each week: at least {min(season.fit)}, and at most {max(season.needed)} are planned."


def _not_fit(season):
    if not season.troubled:
        return "Every planned mat is fit." if any(season.needed) else ""
    week, mats = season.troubled[0]
    are = "mat is" if mats == 1 else "mats are"
    return (
        f"In {counted(len(season.troubled), 'week')} a planned mat is not fit, first {_week(season, week)}: "
        f"{mats} planned {are} not."
    )


def _week(season, number):
    return f"in the week of {short_day(season.weeks[number])}"


@register.filter
def mondays(weeks, season):
    """The days by which weeks are named: their Mondays."""
    return ", ".join(short_day(season.weeks[week]) for week in weeks)
