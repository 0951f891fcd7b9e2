"""Codes that the app gives by itself: the next free ones."""

from ..models import CableSegment, MatDesign

SERIAL = "C-"


def next_free_serials(count):
    """C-00042, C-00043 … after C-00041: as many as asked for, above the highest of that kind."""
    serials = CableSegment.objects.filter(serial__startswith=SERIAL).values_list("serial", flat=True)
    taken = [int(digits) for digits in (serial[len(SERIAL) :] for serial in serials) if digits.isdecimal()]
    first = max(taken, default=0) + 1
    return [f"{SERIAL}{number:05d}" for number in range(first, first + count)]


def free_design_code(wanted):
    """The wanted code, else the same with the first free number behind it."""
    taken = set(MatDesign.objects.filter(code__startswith=wanted).values_list("code", flat=True))
    numbered = (f"{wanted} ({number})" for number in range(2, len(taken) + 3))
    return next(code for code in (wanted, *numbered) if code not in taken)
