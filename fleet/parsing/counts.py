"""Numbers of things, and several things, in words."""

from itertools import groupby


def counted(number, word):
    """1 mat, 2 mats, 0 mats: of words whose plural ends in s."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def listed(words):
    """a; a and b; a, b and c."""
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else f"{last}"


def in_runs(numbers):
    """1–4, 6, 8: of whole numbers in their order; what follows without a gap is drawn together."""
    runs = groupby(enumerate(numbers), key=lambda each: each[1] - each[0])
    return ", ".join(_run([number for _, number in run]) for _, run in runs)


def _run(numbers):
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"
