"""Codes that the app gives by itself: the next free ones."""

from ..models import CableSegment, MatDesign
from ..models.fields import code_key

SERIAL = "C-"


def next_free_serials(count):
    """C-00042, C-00043 … after C-00041: as many as asked for, above the highest of that kind."""
    keys = CableSegment.objects.filter(serial_key__startswith=code_key(SERIAL)).values_list("serial_key", flat=True)
    taken = [int(digits) for digits in (key[len(SERIAL) :] for key in keys) if digits.isdecimal()]
    first = max(taken, default=0) + 1
    return [f"{SERIAL}{number:05d}" for number in range(first, first + count)]


def free_design_code(wanted):
    """The wanted code, else the same with the first free number behind it."""
    taken = set(MatDesign.objects.filter(code_key__startswith=code_key(wanted)).values_list("code_key", flat=True))
    numbered = (f"{wanted} ({number})" for number in range(2, len(taken) + 3))
    return next(code for code in (wanted, *numbered) if code_key(code) not in taken)
