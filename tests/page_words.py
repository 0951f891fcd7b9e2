"""The words that a page shows."""

import re


def words_in(html):
    """Without tags, and with single blanks between the words."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())
