"""Eight years of events with their weather, those ahead, and which mats each takes."""

from datetime import date, timedelta

import numpy as np

from fleet.choices import UsageBasis, UsageState, Weather
from fleet.models import Event, UsageEvent

from . import names, scenarios

AHEAD_DAYS = 140
WEATHER = tuple(Weather)
# shares of dry, damp, rain and snow by month: winter, spring and autumn, summer
COLD, MILD, WARM = (0.25, 0.25, 0.3, 0.2), (0.42, 0.25, 0.3, 0.03), (0.62, 0.16, 0.22, 0.0)
BY_MONTH = (COLD, COLD, MILD, MILD, WARM, WARM, WARM, WARM, WARM, MILD, MILD, COLD)


def weather_of(random, day):
    return WEATHER[random.choice(4, p=BY_MONTH[day.month - 1])]


def all_events(random, on, begins_on):
    """(event, kind, depots that serve it) in order of their first days; those ahead have no weather yet."""
    served = []
    for year in range(begins_on.year, (on + timedelta(days=AHEAD_DAYS)).year + 1):
        for number, (week, place, kind, days) in enumerate(names.EVENTS, 1):
            starts_on = date.fromisocalendar(year, week, 6)
            event = Event(
                code=f"E-{year}-{number:02d}",
                name=f"{place} {kind}",
                place=place,
                starts_on=starts_on,
                ends_on=starts_on + timedelta(days=days - 1),
                weather=weather_of(random, starts_on),
            )
            served.append((event, kind, _depots(number, week)))
    inside = [row for row in served if begins_on <= row[0].starts_on <= on + timedelta(days=AHEAD_DAYS)]
    for event, _, _ in inside:
        if event.starts_on > on:
            event.weather = ""
    return inside


def _depots(number, week):
    """One depot in turn; every third event is large and takes a second one, unless that week has another event."""
    first = number % 3
    alone = sum(other == week for other, *_ in names.EVENTS) == 1
    return (first, (first + 1) % 3) if alone and number % 3 == 0 else (first,)


def all_usage(random, on, served, mats, favour):
    """Who went, who goes, and the loans. Nobody is at two places on one day."""
    away = {}
    loans = [row for mat in mats if mat.number in scenarios.LENT for row in _loans(random, on, mat, away)]
    usage, last_over = [], max(event.ends_on for event, _, _ in served if event.ends_on < on)
    for event, kind, depots in served:
        free = [mat for mat in mats if _may_go(on, event, mat, depots, away)]
        chosen = _choose(random, free, favour, event)
        off = event.weather == Weather.SNOW and random.random() < 0.3
        planned = event.ends_on >= on or event.ends_on == last_over
        for mat in chosen:
            row = UsageEvent(event=event, mat=mat, state=UsageState.PLANNED)
            if not planned:
                _went(random, on, row, kind, off)
            usage.append(row)
    return [*usage, *loans]


def _may_go(on, event, mat, depots, away):
    if mat.depot.name not in [names.DEPOTS[depot] for depot in depots]:
        return False
    if mat.acquired_on > event.starts_on or (mat.withdrawn_on and mat.withdrawn_on <= event.ends_on):
        return False
    if event.ends_on >= on and not scenarios.may_be_planned(mat.number, event.starts_on, on):
        return False
    return not any(first <= event.ends_on and event.starts_on <= last for first, last in away.get(mat.number, ()))


def _choose(random, free, favour, event):
    weights = np.array([favour[mat.number] for mat in free])
    wanted = min(len(free), int(random.integers(5, 13)) + (2 if event.starts_on.month in (5, 6, 7, 8) else 0))
    if not wanted:
        return []
    picked = set(random.choice(len(free), wanted, replace=False, p=weights / weights.sum()).tolist())
    return [mat for row, mat in enumerate(free) if row in picked or scenarios.always_planned(mat.number)]


def _went(random, on, row, kind, off):
    row.state = UsageState.CALLED_OFF if off or random.random() < 0.012 else UsageState.WENT
    if row.state == UsageState.CALLED_OFF:
        return
    days = (row.event.ends_on - row.event.starts_on).days + 1
    if (on - row.event.ends_on).days > 6.5 * 365 and random.random() < 0.2:
        row.basis = UsageBasis.ASSUMED
    elif random.random() < 0.95:
        low, high = names.HOURS_OUT[kind]
        row.hours_out = float(round(2 * days * random.uniform(low, high)) / 2)
        row.fold_cycles = days + int(random.random() < 0.3)


def _loans(random, on, mat, away):
    for year in range(mat.acquired_on.year, on.year + 1):
        for number, (week, days, place, evenings) in enumerate(names.LOANS, 1):
            starts_on = date.fromisocalendar(year, week, 1)
            ends_on = starts_on + timedelta(days=days - 1)
            if starts_on < mat.acquired_on or starts_on > on + timedelta(days=AHEAD_DAYS):
                continue
            over = ends_on < on
            event = Event(
                code=f"L-{year}-{number}-{mat.number}",
                name=f"{place} evening runs, season's loan",
                place=place,
                starts_on=starts_on,
                ends_on=ends_on,
                weather=Weather.DAMP if over else "",
            )
            away.setdefault(mat.number, []).append((starts_on, ends_on))
            yield UsageEvent(
                event=event,
                mat=mat,
                state=UsageState.WENT if over else UsageState.PLANNED,
                counts_for=evenings + int(random.integers(-3, 4)),
                basis=UsageBasis.REPORTED,
            )
