"""How much is tried: little in the suite, `HALFPOWER_EXAMPLES=10` ten times as many examples of each property."""

import os


def examples(few):
    return few * int(os.environ.get("HALFPOWER_EXAMPLES", "1"))
