"""Whole numbers in what a page of ours sent, or somebody by hand."""

# eighteen nines: the largest that every column of whole numbers holds
MOST_DIGITS = 18


def read_whole(text):
    """The number that the digits say; None for what are no digits, or more of them than any number of ours has."""
    return int(text) if text and text.isdecimal() and len(text) <= MOST_DIGITS else None
