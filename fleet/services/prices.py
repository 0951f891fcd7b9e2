"""The price list: lines are added, corrected, and deleted where they never were or hold no longer."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..models import Price
from .locks import hold
from .races import race_refused

ALREADY = "There is a {price} already. Correct that one."


@transaction.atomic
def add_price(*, by, cable_type=None, length_m=None, design=None, **values):
    """A line for one kind of cable, for any length of a type (no length), or for the set of a design.

    Lengths that differ by less than a millimetre are one.
    """
    price = Price(cable_type=cable_type, length_m=length_m, design=design, recorded_by=by, **values)
    price.full_clean(validate_unique=False, validate_constraints=False)
    refuse_second(price)
    with race_refused(ALREADY.format(price=_named(price))):
        price.save()
    return price


@transaction.atomic
def add_price_list(lines, *, by, cable_type):
    """All the PriceLines of a type or none: ValidationError at `lines` names the first that cannot be added."""
    for line in lines:
        values = {"length_m": line.length_m, "price": line.price, "supplier_number": line.supplier_number}
        try:
            add_price(by=by, cable_type=cable_type, **values)
        except ValidationError as error:
            sentence = " ".join(error.messages)
            raise ValidationError({"lines": f"Line {line.number}: {sentence}"}) from error
    return len(lines)


def refuse_second(price):
    """ValidationError where the list has a line of the same already."""
    of = {"cable_type": price.cable_type, "length_m": price.length_m, "design": price.design}
    if Price.objects.of_same(**of).exclude(pk=price.pk).exists():
        raise ValidationError(ALREADY.format(price=_named(price)))


@transaction.atomic
def correct_price(line, *, by, reason="", seen_version=None, **values):
    """A new price, lead time or number; what the line is of stays."""
    hold(line)
    return line.correct(by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def delete_price(price, *, by, reason, seen_version=None):
    """Nothing rests on a line of the list; its trail keeps what it said."""
    hold(price)
    price.delete_with_trail(by=by, reason=reason, seen_version=seen_version)


def _named(price):
    return f"{price}".replace("Price", "price", 1)
