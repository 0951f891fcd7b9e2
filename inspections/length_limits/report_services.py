"""The report of the command `rules`: limits by length as plain data, numbers unrounded."""

import math

from ..numeric.words import Clock


def rules_report(on, own, other):
    """As of `on`, from PoolLimits by the keeper's clock and by the other. Age limits come from the fit that counts
    years, event limits from the one that counts events; what today's limit does is said by the keeper's clock. None: no
    fit tells it, or not within 40 years (5,000 events).
    """
    agreement = own.agreement
    return {
        "on": on.isoformat(),
        "accepted_risk": own.risk,
        "clock": str(own.clock),
        "watched_until_years": own.watched_until_years or None,
        "agreement": agreement
        and {
            "lives": agreement.lives,
            "times_as_often": finite_or_none(agreement.times),
            "low": finite_or_none(agreement.low),
            "high": finite_or_none(agreement.high),
            "p_value": finite_or_none(agreement.p_value),
        },
        "rules": [_rule(*rows) for rows in limits_of_places(own, other)],
    }


def limits_of_places(own, other):
    """(PositionLimit by years, by events, by the keeper's clock) of each position that has one of them."""
    rows = {page.clock: {(row.design.code, row.position): row for row in page.rows} for page in (own, other)}
    for place in sorted({place for found in rows.values() for place in found}):
        yield rows[Clock.YEARS].get(place), rows[Clock.EVENTS].get(place), rows[own.clock].get(place)


def _rule(by_years, by_events, own):
    place = own or by_years or by_events
    return {
        "design": place.design.code,
        "position": place.position,
        "length_m": place.length_m,
        "accepted_risk": place.accepted_risk,
        **_limit(by_years, "age_limit_years", "age_limit"),
        **_limit(by_events, "event_limit", "event_limit"),
        "today_share_over": own and finite_or_none(own.today_share_over),
        "today_life_left": own and finite_or_none(own.today_life_left),
        # an age that is not known for it is none that is never reached
        "falls": bool(by_years and math.isnan(by_years.age)),
    }


def _limit(row, name, ends):
    return {
        name: row and finite_or_none(row.age),
        f"{ends}_low": row and finite_or_none(row.low),
        f"{ends}_high": row and finite_or_none(row.high),
    }


def finite_or_none(value):
    """As JSON can hold it: what is not known or has no end is None."""
    return value if math.isfinite(value) else None
