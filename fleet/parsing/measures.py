"""One number with its unit, as people write it: `4 m`, `0,5`, `ca. 3.25 m`, `868 MHz`."""

import re

_NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)")
_ABOUT = re.compile(r"^(?:about|approx\.?|ca\.?|circa|etwa|~) ?")
_MINUS = str.maketrans("‐‑–—−", "-----")


def read_measure(text, unit):
    """The number of a text, in that unit, which it may name; ValueError with what to write where it is none."""
    plain = _ABOUT.sub("", " ".join(text.translate(_MINUS).casefold().split()))
    plain = plain.removesuffix(unit.casefold()).strip()
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    if not _NUMBER.fullmatch(plain):
        raise ValueError(f"a number of {unit} such as 1.25")
    return float(plain)
