"""What to buy as a file: a row a kind of cable, and one a set."""

import csv
import io

from fleet.choices import LengthBasis
from fleet.intake.kinds import guarded

from .plan_selectors import first_order

CABLE = ("cable_type", "length_m", "length_basis", "connector_feed", "connector_element")
ORDER = ("to_buy", "price", "cost", "first_missing_on", "lead_time_days", "buy_by", "to_buy_by_then")
COLUMNS = ("supplier_number", *CABLE, "design", *ORDER, "needed", "on_work_orders", "on_shelf")


def buying_csv(plan):
    """The text of the file: bare numbers, units in the names; texts that a spreadsheet would run get a leading '."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(_texts(_of_kind(kind, plan.on)) for kind in plan.kinds if kind.singles)
    writer.writerows(_texts(_of_set(each, plan.on)) for each in plan.bought_sets)
    return stream.getvalue()


def _of_kind(plan, on):
    return _of_offer(plan, on) | {
        "cable_type": plan.cable_type.name,
        "length_m": plan.length_m,
        "length_basis": LengthBasis.ESTIMATED if plan.estimated else LengthBasis.KNOWN,
        "connector_feed": plan.cable_type.connector_feed,
        "connector_element": plan.cable_type.connector_element,
        "needed": plan.needed,
        "on_work_orders": plan.on_orders,
        "on_shelf": plan.on_shelf,
    }


def _of_set(plan, on):
    return _of_offer(plan, on) | {"design": plan.design}


def _of_offer(plan, on):
    return {
        "supplier_number": plan.offer.supplier_number,
        "to_buy": len(plan.days),
        "price": plan.offer.price,
        "cost": plan.cost,
        "first_missing_on": plan.days[0],
        "lead_time_days": plan.offer.lead_time_days,
        "buy_by": plan.buy_by,
        "to_buy_by_then": first_order(plan, on) if plan.buy_by else "",
    }


def _texts(row):
    return {name: guarded(value) if isinstance(value, str) else value for name, value in row.items()}
