"""A worn pool whose costs are known: prices of its lengths, what its keeper said, and events of the last year."""

from datetime import date, timedelta

from factories import make_event, make_price, make_usage_event, set_policy_value
from worn_pools import make_pool

from fleet.models import CableType

# after the last bench day of `worn_pools`
ON = date(2026, 10, 1)
SAID = {
    "minutes_per_change": 10,
    "minutes_per_mat": 30,
    "hour_price": 20,
    "event_cost_low": 5,
    "event_cost_high": 50,
}
EVENTS_A_YEAR = 12


def say(by, **values):
    for setting, value in values.items():
        set_policy_value(setting, value, by=by, on=ON)


def price_all(price="15.00"):
    for cable_type in CableType.objects.all():
        make_price(cable_type, price=price)


def go_out(mats, times=EVENTS_A_YEAR):
    """Each mat to as many events within the year before ON."""
    for number in range(times):
        event = make_event(ON - timedelta(days=20 + number * 340 // times))
        for mat in mats:
            make_usage_event(mat, event)


def make_costed_pool(by, **said):
    """Mats of a pool of which everything is known; `said`: in place of SAID."""
    mats = make_pool(rate_db=0.9)
    price_all()
    go_out(mats)
    say(by, **(SAID | said))
    return mats
