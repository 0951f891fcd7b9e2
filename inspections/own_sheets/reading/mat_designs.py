"""Which design each mat has: what its row says, and what the sheets of cables show of it."""

from dataclasses import replace

from fleet.intake.files import MATS

from ..understood import Assumption
from .builds import Build, Designs, places_of
from .known_selectors import KnownMat


def settle_designs(said, cables, making):
    """Give each mat of the sheets its design, as a cell of its row.

    `said`: {number: SaidMat} of sheets of mats; `cables`: {number: [SaidCable]} of sheets of cables.
    """
    designs, builds = Designs(making), {}
    for number in {**said, **cables}:
        builds.setdefault(said[number].build if number in said else None, []).append(number)
    for build, numbers in builds.items():
        for number in numbers:
            place = said[number].place if number in said else cables[number][0].place
            design = _design_of(number, build, numbers, cables, designs, place)
            _settle(making, number, design, place)


def _design_of(number, build, numbers, cables, designs, place):
    """The code of the mat's design: the one that it has, where nothing else is said."""
    known = designs.register.mat(number)
    stored = known and known.design and designs.register.design_of(known)
    if stored and (build is None or designs.is_of(stored, build)):
        return stored.code
    if build is None:
        # nobody said which mats are alike: those with the same cables
        seen = places_of(each.as_place for each in cables.get(number, ()))
        if not seen:
            designs.making.assume(Assumption.NO_BUILD, number)
        return designs.design_of(Build(), seen, place).code
    seen = places_of(each.as_place for other in numbers for each in cables.get(other, ()))
    return designs.design_of(build, seen, place).code


def _settle(making, number, code, place):
    known = making.register.mat(number)
    making.register.add_mat(replace(known, design=code) if known else KnownMat(number, code, stored=False))
    making.add(MATS.file, {"mat": number, "design": code}, place)
