"""What the command `rules` prints for people, in lines of at most 100 characters."""

from itertools import groupby
from math import isfinite, isnan
from textwrap import wrap

import numpy as np

from fleet.figures import percent, two_places
from fleet.parsing.counts import counted

from ..length_limits.report_services import limits_of_places
from ..numeric.lives.resampling import interval
from ..numeric.words import Clock
from ..rule_trial.services import ALL_OF_IT, played
from ..rule_trial.tables import events_over_in_words, spread_in_words
from ..templatetags.agreement_text import checks_against_trend
from ..templatetags.cost_text import (
    cables_in_short,
    cost_in_short,
    designs_in_words,
    kinds_in_words,
    missing_in_words,
    money,
    money_span,
)
from ..templatetags.figures import risk
from ..templatetags.limit_text import FALLS, NEVER
from ..templatetags.trial_text import trial_in_short, why_no_trial

WIDTH = 100
LIMITS = ("position", "length", "over at, years", "over at, events", "over before today’s", "life left")
PLAYED = ("rule", "cables a year", "events with a cable over", "changed too late", "readings")
COSTS = ("length", "cables", "today", "event", "cheapest at", "5 % dearer", "cost a year", "today more")


def limits_in_text(day):
    """Lines of the limits by length of RulesOfDay."""
    yield from _sentence(f"As of {day.on}, by the trend of this pool’s readings. {_watched(day.own)}")
    places = list(limits_of_places(day.own, day.other))
    if not places:
        yield from _sentence(_no_limit(day.own))
        return
    yield from _sentence(checks_against_trend(day.own.agreement))
    yield from _headed(
        "Limits by length",
        "Over at: by when so many of a length are over. Life left: the share that today’s limit throws away. In "
        "brackets: 90 % intervals.",
    )
    for (design, accepted), rows in groupby(places, key=_design_and_risk):
        yield ""
        yield f"{design}: {risk(accepted)} over".replace("\N{NO-BREAK SPACE}", " ")
        yield from _table(LIMITS, [_limit_cells(*row) for row in rows])


def _no_limit(own):
    if own.has_fit:
        return "No design in use has a position, so there is no limit to tell."
    return "There is no trend of the pool yet, so no limit can be told."


def _watched(own):
    years = own.watched_until_years
    return f"No cable was watched beyond {years:.1f} years." if years else "No cable was watched yet."


def _design_and_risk(rows):
    row = next(filter(None, rows))
    return row.design.code, row.accepted_risk


def _limit_cells(by_years, by_events, own):
    place = own or by_years or by_events
    today = [percent(share) if own and isfinite(share) else "" for share in _today(own)]
    return (str(place.position), f"{two_places(place.length_m)} m", _limit(by_years, 2), _limit(by_events, 0), *today)


def _today(own):
    return (own.today_share_over, own.today_life_left) if own else (np.nan, np.nan)


def _limit(row, places):
    if row is None:
        return ""
    if isnan(row.age):
        return FALLS
    if not isfinite(row.age):
        return NEVER[row.wear_clock]
    return _with_interval(row.age, row.low, row.high, places)


def _span(low, high, places):
    """`2.1 to 2.6`, `from 2.1 on`, `never`; one number where both are the same."""
    first, last = f"{low:.{places}f}", f"{high:.{places}f}"
    if not isfinite(low):
        return "never"
    if not isfinite(high):
        return f"from {first} on"
    return first if first == last else f"{first} to {last}"


def played_in_text(day):
    """Lines of the rules that were played against each other; plays them."""
    trial = day.trial
    if trial.question is None:
        yield from _headed("Rules played against each other", why_no_trial(trial))
        return
    found = played(trial.question, ALL_OF_IT)
    yield from _headed(
        "Rules played against each other",
        f"A year of the whole pool, {counted(len(trial.question.places), 'position')}. In brackets: 90 % intervals by "
        "what the readings leave open. Readings: of all cables, as each rule asks for them.",
    )
    yield from _table(PLAYED, [_played_cells(name, answer) for name, answer in found.answers], left=1)
    yield from _sentence(trial_in_short(trial, found))


def _played_cells(name, answer):
    cables, late = map(spread_in_words, (answer.cables, answer.late))
    return name.words, cables, events_over_in_words(answer), late, f"{answer.readings:.0f}"


def costs_in_text(day):
    """Lines of what today's limits cost and of the cheapest ages."""
    page = day.costs
    yield from _headed("What rules cost", " ".join([cost_in_short(page), cables_in_short(page) if page.rows else ""]))
    for sentence in _missing(page):
        yield from _sentence(sentence)
    if not page.rows:
        return
    yield from _sentence(
        f"Ages in {page.clock}; a line for each of the costs of an event that you said. Event: that cost. 5 % dearer: "
        "between which ages a change costs at most that. Cost a year: of one cable. Today more: than the cheapest age, "
        "all cables of that length, a year. In brackets: 90 % intervals."
    )
    ends = [0] if np.ptp(page.work.event_costs) == 0 else [0, 1]
    for design, rows in groupby(page.rows, key=lambda row: row.place.design):
        yield ""
        yield str(design)
        yield from _table(COSTS, [_cost_cells(row, end, page) for row in rows for end in ends])


def _missing(page):
    if page.work.missing:
        yield f"{missing_in_words(page.work)}."
    if page.unpriced:
        yield f"No price is known of {kinds_in_words(page.unpriced)}."
    if page.unused:
        yield f"How often mats of {designs_in_words(page.unused)} go to events is not on record in the last year."
    if page.falls:
        yield f"By the readings the wear of {kinds_in_words(page.falls)} falls, which it cannot."


def _cost_cells(row, end, page):
    places = 1 if page.clock == Clock.YEARS else 0
    best, place = row.best, row.place
    low, high = interval(row.all_more_drawn[end])
    return (
        f"{two_places(place.length_m)} m",
        str(place.cables),
        f"{place.today:.{places}f}" if isfinite(place.today) else "none",
        money(page.work.event_costs[end]),
        _with_interval(best.age[end], row.age_low[end], row.age_high[end], places),
        _span(best.low[end], best.high[end], places),
        f"{money_span((best.cost[end],) * 2)} ({money_span((row.cost_low[end], row.cost_high[end]))})",
        f"{row.more[end]:.0f} ({_span(round(low), round(high), 0)})",
    )


def _with_interval(value, low, high, places):
    return f"{_span(value, value, places)} ({_span(low, high, places)})"


def _headed(heading, words):
    yield ""
    yield heading
    yield from _sentence(words)


def _sentence(words):
    return wrap(words.replace("\N{NO-BREAK SPACE}", " "), WIDTH)


def _table(headings, rows, left=0):
    """Columns, right-aligned but for the first `left`; nearer together where they would be too wide."""
    lines = [headings, *rows]
    lines = [[cell.replace("\N{NO-BREAK SPACE}", " ") for cell in line] for line in lines]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    apart = "  " if sum(widths) + 2 * len(widths) - 2 <= WIDTH else " "
    for line in lines:
        cells = zip(line, widths, strict=True)
        yield apart.join(f"{c:{w}}" if n < left else f"{c:>{w}}" for n, (c, w) in enumerate(cells)).rstrip()
