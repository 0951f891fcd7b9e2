"""Costs of rules for the command `rules`, as plain data with numbers unrounded."""

from ..length_limits.report_services import finite_or_none


def costs_report(page):
    """Of RuleCosts: what is missing, what the limits in force cost a year, and the cheapest age or count of each place.
    Pairs are of an event that costs the least and the most. None: do not change by age, or no end to a range."""
    low, high = page.more_interval
    return {
        "clock": str(page.clock),
        "not_known": [setting.name for setting in page.work.missing],
        "without_a_price": [_place(place) for place in page.unpriced],
        "without_events": sorted({place.design.code for place in page.unused}),
        "event_costs": None if page.work.missing else page.work.event_costs.tolist(),
        "checks_a_year": page.looks.a_year,
        "changed_together": page.together.mean,
        "today_a_year": page.today.tolist() if page.rows else None,
        "more_a_year": page.more.tolist() if page.rows else None,
        "more_a_year_low": low if page.rows else None,
        "more_a_year_high": high if page.rows else None,
        "cables_a_year_today": float(page.changes[0, 0]) if page.rows else None,
        "cables_a_year_cheapest": page.changes[1].tolist() if page.rows else None,
        "places": [_row(row) for row in page.rows],
    }


def _place(place):
    return {"design": place.design.code, "positions": list(place.positions), "length_m": place.length_m}


def _row(row):
    numbers = {
        "cheapest_at": row.best.age,
        "cheapest_at_low": row.age_low,
        "cheapest_at_high": row.age_high,
        "nearly_from": row.best.low,
        "nearly_to": row.best.high,
        "share_over_before": row.over_before,
        "cheapest_a_year": row.best.cost,
        "cheapest_a_year_low": row.cost_low,
        "cheapest_a_year_high": row.cost_high,
        "today_a_year": row.today_cost,
        "today_a_year_low": row.today_low,
        "today_a_year_high": row.today_high,
        "never_by_age_a_year": row.never_cost,
    }
    return {
        **_place(row.place),
        "cables": row.place.cables,
        "price": row.place.price,
        "events_a_year": row.place.events_a_year,
        "today": finite_or_none(row.place.today),
        **{name: list(map(finite_or_none, ends.tolist())) for name, ends in numbers.items()},
    }
