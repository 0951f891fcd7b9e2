"""A pool on which rules are played, and trials of a few pools of few places: what is tested is not chance."""

from datetime import date, timedelta

from factories import make_event, make_usage_event
from worn_pools import make_pool

from inspections.rule_trial import question_services, services

ON = date(2026, 10, 1)
RULES = [
    *("today’s limits", "3 years", "150 events", "limits by length"),
    *(f"trend, read every {months} months" for months in (6, 12, 24)),
]


def play_few(monkeypatch):
    monkeypatch.setattr(question_services, "DRAWS", 8)
    monkeypatch.setattr(question_services, "PLACES", dict.fromkeys(question_services.PLACES, 30))
    monkeypatch.setattr(services, "SECONDS_A_PAGE", services.ALL_OF_IT)
    services.forget()


def make_used_pool(**how):
    """A worn pool whose mats went out once a month in the last year."""
    mats = make_pool(**how)
    for month in range(1, 12):
        event = make_event(starts_on=ON - timedelta(30 * month))
        for mat in mats:
            make_usage_event(mat, event=event)
    return mats
