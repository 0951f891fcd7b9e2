"""What the locks name, read by pip's rules."""

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from inspections.management.environment import required
from inspections.management.installing import LOCKS


def pins(*ranges):
    """{name: the requirement that pins it} of the locks of these ranges."""
    lines = [line for line in required([LOCKS[each] for each in ranges]) if not line.startswith("--hash")]
    found = [Requirement(line.removesuffix("\\").strip()) for line in lines]
    return {canonicalize_name(pin.name): pin for pin in found}
