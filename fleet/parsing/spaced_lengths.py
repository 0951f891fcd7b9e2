"""Lengths of the cables of a mat of which only the shortest and the longest are said."""


def spaced_lengths(shortest_m, longest_m, count):
    """As many lengths, evenly from the shortest to the longest, to the centimetre."""
    step_m = (longest_m - shortest_m) / max(count - 1, 1)
    return [round(shortest_m + step * step_m, 2) for step in range(count)]


def estimated_positions(lengths_m, filled_in):
    """Positions between first and last whose length is the one that was filled in, unless both ends are alike."""
    if len(lengths_m) != len(filled_in) or filled_in[0] == filled_in[-1]:
        return frozenset()
    pairs = list(enumerate(zip(lengths_m, filled_in, strict=True), 1))
    return frozenset(position for position, (given, filled) in pairs[1:-1] if given == filled)
