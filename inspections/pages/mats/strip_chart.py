"""The strip of a mat: a mark for each position, in their order from the feed end."""

from dataclasses import dataclass

from django.utils.text import slugify

PITCH, SIZE = 15, 12


@dataclass(frozen=True)
class StripMark:
    """`mark`: its name in the sprite, and that of its colour; `x`: its left edge in px."""

    mark: str
    x: int


@dataclass(frozen=True)
class Strip:
    marks: tuple[StripMark, ...]
    height: int = SIZE

    @property
    def width(self):
        return PITCH * len(self.marks)


def strip(places):
    """The Strip of these `Place`s."""
    return Strip(tuple(StripMark(mark_of(place.status), PITCH * index) for index, place in enumerate(places)))


def mark_of(status):
    """None: the position holds no cable."""
    return slugify(status) if status else "empty"
