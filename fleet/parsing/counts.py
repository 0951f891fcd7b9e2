"""Numbers of things, and several things, in words."""


def counted(number, word):
    """1 mat, 2 mats, 0 mats: of words whose plural ends in s."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def listed(words):
    """a; a and b; a, b and c."""
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else f"{last}"
