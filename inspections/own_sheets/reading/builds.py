"""Builds of mats as a sheet names them, and the designs that they come to: stored ones, else new ones with codes."""

import re
from collections import Counter
from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError

from fleet.choices import LengthBasis
from fleet.intake.files import CABLE_TYPES, MAT_DESIGNS, POSITIONS
from fleet.limits import CABLE_LENGTH, MAT_WIDTH, POSITION
from fleet.models.fields import code_key
from fleet.models.segments import ASSUMED_CABLE, SAME_LENGTH_M
from fleet.parsing.counts import counted
from fleet.parsing.measures import read_measure
from fleet.parsing.numbers import read_lengths
from fleet.parsing.spaced_lengths import estimated_positions, spaced_lengths
from fleet.parsing.whole_numbers import read_whole
from fleet.services.start_here import ASSUMED_DB_PER_M
from fleet.validators import CODE_LENGTH

from ..understood import Assumption
from .known_selectors import KnownDesign, KnownPlace
from .rows import is_code, on_one_line

NO_BUILD = "Build not known"
_BUILD = "Build "
_WIDTH, _COUNT = re.compile(r"(\d+(?:[.,]\d+)?) ?m\b"), re.compile(r"(\d{1,3}) ?(?:cables?|kabel|positions?|coax)\b")
_NAME = re.compile(
    r"(?P<width>\d+(?:[.,]\d+)?) ?(?:m|metres?|meters?)\b[ ,/x×*()-]*"
    r"(?:(?P<count>\d{1,3}) ?(?:cables?|kabel|positions?|pos\.?|elements?|antennas?|antennen|coax)?\)?)?"
)


@dataclass(frozen=True)
class Build:
    """What is said of a build; `name` as the sheet has it. None and () where nobody said."""

    name: str = ""
    width_m: float | None = None
    count: int | None = None
    lengths_m: tuple[float, ...] = ()
    estimated: frozenset[int] = frozenset()
    cable_type: str = ""

    @property
    def code(self):
        """By which its design is known, where no other has the code."""
        if self.width_m and self.count and (not self.name or _named(self.name) or not is_code(self.name)):
            return f"{self.width_m:g} m, {counted(self.count, 'cable')}"
        if self.name:
            return self.name if is_code(self.name) else _fitting(self.name)
        if self.width_m:
            return f"{self.width_m:g} m"
        return counted(self.count, "cable") if self.count else NO_BUILD


def build_of(name, *, width_m=None, count=None, lengths="", cable_type="", answer=None):
    """The Build of a row, or of what was answered of its name; lengths as people write them, `0.5 to 4`.

    ValueError where the lengths cannot be read, or are not as many as the cables, or these are more than any mat has.
    """
    answer = answer or {}
    said_width_m, said_count = _said_by(name)
    width_m = _number(answer.get("width_m")) or width_m or said_width_m
    count = read_whole(str(answer.get("cables") or "").strip()) or count or said_count
    if count and count > POSITION.absurd_above:
        raise ValueError(f"a number of cables up to {POSITION.absurd_above}")
    width_m = width_m if width_m is None or MAT_WIDTH.absurd_below <= width_m <= MAT_WIDTH.absurd_above else None
    given, estimated = lengths_of(answer.get("lengths_m") or lengths, count)
    return Build(name, width_m, count or len(given) or None, given, estimated, cable_type)


def lengths_of(text, count):
    """(lengths by position, positions of those that were filled in) of a text; ValueError for what is none."""
    if not text.strip():
        return (), frozenset()
    try:
        lengths = read_lengths(text)
    except ValueError:
        raise ValueError("lengths in m, such as 0.5 to 4") from None
    for length_m in lengths:
        _check_length(length_m)
    if count and len(lengths) == 2 < count:
        filled = spaced_lengths(min(lengths), max(lengths), count)
        return tuple(filled), estimated_positions(filled, filled)
    if count and len(lengths) != count:
        raise ValueError(f"the shortest and the longest length in m, or all {count}")
    return tuple(lengths), frozenset()


def _check_length(length_m):
    try:
        CABLE_LENGTH.check(length_m)
    except ValidationError as error:
        raise ValueError(" ".join(error.messages).removesuffix(".")) from error


def _said_by(name):
    """(width in m, number of cables) that stand in the name of a build; None where they do not."""
    if found := _named(name):
        return _number(found["width"]), read_whole(found["count"] or "")
    width, count = _WIDTH.search(name.casefold()), _COUNT.search(name.casefold())
    return width and _number(width[1]), count and read_whole(count[1])


def _named(name):
    return _NAME.fullmatch(" ".join(name.casefold().split()))


def _number(text):
    try:
        return read_measure(str(text), "m") if text else None
    except ValueError:
        return None


def _fitting(name):
    """A code that is as near as may be to a name that is none."""
    bare = on_one_line(name).replace("/", "-").replace("\\", "-")[: CODE_LENGTH - len(_BUILD)].strip()
    return bare if is_code(bare) else f"{_BUILD}{bare}"


class Designs:
    """Gives each build its design; of the same build the first that is settled holds for all its mats."""

    def __init__(self, making):
        self.making, self.register = making, making.register
        self._of_build = {}

    def design_of(self, build, seen, place):
        """The KnownDesign of a build. `seen`: {position: KnownPlace}, as sheets of cables have them in its mats."""
        key = build, tuple(seen.items())
        if key not in self._of_build:
            stored = self._stored(build, seen)
            if stored and build.name and code_key(build.name) != code_key(stored.code):
                self.making.assume(Assumption.TAKEN_BUILD, stored.code, name=build.name, code=stored.code)
            self._of_build[key] = stored or self._made(build, seen, place)
        return self._of_build[key]

    def is_of(self, design, build):
        """Whether this stored design is what the build came to, or would."""
        return code_key(design.code) in {code_key(build.name), code_key(build.code)} or _is_built_so(design, build)

    def _stored(self, build, seen):
        """One of this code; else one in use of this width, with so many cables and the lengths that are said."""
        named = build.name and self.register.designs.get(code_key(build.name))
        if named:
            return named
        alike = (design for design in self.register.designs.values() if design.in_use and _is_like(design, build, seen))
        return next(alike, None)

    def _made(self, build, seen, place):
        build = self._with_lengths(build, seen)
        kind = build.cable_type or ASSUMED_CABLE
        said = {
            number: KnownPlace(length_m, kind, _basis(number in build.estimated))
            for number, length_m in enumerate(build.lengths_m, 1)
        }
        # what a sheet of cables says is surer than an estimate, and less than what is said of the build
        places = seen | said if not build.estimated else said | seen
        code = self.register.free_design_code(replace(build, count=build.count or len(seen) or None).code)
        design = KnownDesign(code, build.width_m, dict(sorted(places.items())), stored=False)
        self.register.add_design(design)
        self._say(build, design)
        self._add_rows(design, place)
        return design

    def _with_lengths(self, build, seen):
        """Where nobody said how long they are: evenly, from the first element to the far end of the mat."""
        if build.lengths_m or not build.width_m or (build.count or 0) <= len(seen):
            return build
        lengths_m = spaced_lengths(round(build.width_m / build.count, 2), build.width_m, build.count)
        return replace(build, lengths_m=tuple(lengths_m), estimated=frozenset(range(1, build.count + 1)))

    def _say(self, build, design):
        if build == Build():
            # that no build is known is said of its mats
            return
        self.making.assume(
            Assumption.NEW_BUILD, design.code, name=build.name, code=design.code, positions=len(design.places)
        )
        if not design.places:
            self.making.assume(Assumption.NO_LENGTHS, design.code)
        elif len(build.estimated) == len(build.lengths_m) > 0:
            ends = {"shortest_m": build.lengths_m[0], "longest_m": build.lengths_m[-1]}
            self.making.assume(Assumption.ESTIMATED_LENGTHS, design.code, **ends)

    def _add_rows(self, design, place):
        add = self.making.add
        add(MAT_DESIGNS.file, {"design": design.code, "width_m": design.width_m}, place)
        for number, each in design.places.items():
            values = {"design": design.code, "position": number, "length_m": each.length_m}
            values |= {"cable_type": cable_type(self.making, each.cable_type, place), "length_basis": each.length_basis}
            add(POSITIONS.file, values, place)


def cable_type(making, name, place):
    """The type as the pool writes it; a new one gets the attenuation of a likely cable."""
    known = making.register.cable_types
    if code_key(name) not in known:
        known[code_key(name)] = name
        making.add(CABLE_TYPES.file, {"cable_type": name} | ASSUMED_DB_PER_M, place)
        if name != ASSUMED_CABLE:
            making.assume(Assumption.CABLE_TYPE, name)
    return known[code_key(name)]


def places_of(cables):
    """{position: KnownPlace}, what most have, of (position, length in m or None, type) of cables of one build.

    Empty where of one position nobody said a length.
    """
    by_position = {}
    for position, length_m, kind in cables:
        by_position.setdefault(position, Counter())[length_m, kind or ASSUMED_CABLE] += 1
    found = {position: _most(counter) for position, counter in sorted(by_position.items())}
    return {} if None in found.values() else found


def _most(counter):
    known = [(length_m, kind) for (length_m, kind), _ in counter.most_common() if length_m]
    return KnownPlace(*known[0], LengthBasis.KNOWN.value) if known else None


def _basis(is_estimated):
    return LengthBasis.ESTIMATED.value if is_estimated else LengthBasis.KNOWN.value


def _is_like(design, build, seen):
    """It has exactly the cables that were seen, or is built as somebody said."""
    if seen and not build.lengths_m:
        return design.width_m == build.width_m and _alike(design.places, seen)
    return _is_built_so(design, build)


def _alike(places, seen):
    return places.keys() == seen.keys() and all(
        abs(places[number].length_m - place.length_m) < SAME_LENGTH_M and places[number].cable_type == place.cable_type
        for number, place in seen.items()
    )


def _is_built_so(design, build):
    count = len(build.lengths_m) or build.count
    if design.width_m is None or design.width_m != build.width_m or not count or len(design.places) != count:
        return False
    lengths = [design.places[number].length_m for number in sorted(design.places)]
    kinds = {place.cable_type for place in design.places.values()}
    return (not build.cable_type or {build.cable_type} == kinds) and all(
        abs(length_m - said) < SAME_LENGTH_M for length_m, said in zip(lengths, build.lengths_m, strict=False)
    )
