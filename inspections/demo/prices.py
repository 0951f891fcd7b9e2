"""An invented price list: what each length costs, two sets, how long all of it takes to come; and what work costs."""

from decimal import Decimal

from fleet.models import Price

from ..models import PolicyValue
from . import names

# of each cable type: two connectors and the work, a metre of cable, days until it comes
WORK, METRE, LEAD_TIME_DAYS = 0, 1, 2
OF_TYPE = {"Fen 5": ("14.20", "3.40", 28), "Fen 2.5": ("11.60", "4.10", 14)}
# a set costs so much less than its cables: worth it where most of a mat is changed, not for the larger ones
SET_AT = {"Fen 200": Decimal("0.70"), "Fen 600": Decimal("0.85")}
SET_LEAD_TIME_DAYS = 35
# minutes of work and what an hour costs; what an event with a cable over costs, as far as anybody knows
COSTS = {
    "minutes_per_change": 12,
    "minutes_per_mat": 25,
    "hour_price": 18,
    "event_cost_low": 10,
    "event_cost_high": 60,
}


def costs():
    """Unsaved policy values of the pool."""
    return [PolicyValue(setting=name, value=value) for name, value in COSTS.items()]


def prices(cable_types, designs):
    """Unsaved lines. Lead times are the same for every length of a type, so they stand on one line."""
    for name, cable_type in cable_types.items():
        yield Price(cable_type=cable_type, lead_time_days=OF_TYPE[name][LEAD_TIME_DAYS])
        for length_m in sorted({length_m for build in _of_type(name) for length_m in build.lengths_m}):
            number = f"{name.replace(' ', '')}-{round(1000 * length_m):04d}"
            price = single_price(name, length_m)
            yield Price(cable_type=cable_type, length_m=length_m, price=price, supplier_number=number)
    for build in names.BUILDS:
        if build.code in SET_AT:
            singly = sum(single_price(build.cable_type, length_m) for length_m in build.lengths_m)
            price, number = _rounded(SET_AT[build.code] * singly), f"SET-{build.code.replace(' ', '')}"
            design = designs[build.code]
            yield Price(design=design, price=price, lead_time_days=SET_LEAD_TIME_DAYS, supplier_number=number)


def single_price(name, length_m):
    return _rounded(Decimal(OF_TYPE[name][WORK]) + Decimal(OF_TYPE[name][METRE]) * Decimal(str(length_m)))


def _of_type(name):
    return [build for build in names.BUILDS if build.cable_type == name]


def _rounded(price):
    return price.quantize(Decimal("0.01"))
