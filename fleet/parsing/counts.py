"""Numbers of things in words."""


def counted(number, word):
    """1 mat, 2 mats, 0 mats: of words whose plural ends in s."""
    return f"{number} {word}{'' if number == 1 else 's'}"
