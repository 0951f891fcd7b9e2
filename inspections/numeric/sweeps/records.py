"""What a sweep file says, and why one is refused."""

from dataclasses import dataclass

import numpy as np

SHOWN_CHARACTERS = 60


class SweepRefused(Exception):
    """Why a sweep is not taken: `what` was found in which `line` (0: the file as a whole), and what to `do`."""

    def __init__(self, what, do, *, line=0, text=""):
        self.what, self.do, self.line, self.text = what, do, line, short(text)
        super().__init__(self.sentence())

    def sentence(self, file=""):
        """One sentence on what was found and where, and one on what to do."""
        place = f"line {self.line}" if self.line else ""
        found = f" “{self.text}”" if self.text else ""
        where = ", ".join(filter(None, [seen(file), place])) + found
        return f"{where}: {self.what} {self.do}" if where else f"{self.what} {self.do}"


class FarEndNotSaid(SweepRefused):
    """A one-port sweep, of which only the bench hand knows how the far end was."""


@dataclass(frozen=True)
class Sweep:
    """One sweep in ascending frequency: arrays (points,), all for 50 ohm.

    `loss_db` is the insertion loss by S21 and `return_loss_db` the return loss by S11, both positive for a cable and
    infinite where the file holds a zero; None: the file does not hold it. `s` are the S parameters (points, ports,
    ports), None for a table. `line` is the line that a point was read from. `is_named` is false for a table whose
    only column of dB does not say whether it is S21 or S11: both losses then hold it.
    """

    kind: str
    frequency_mhz: np.ndarray
    line: np.ndarray
    loss_db: np.ndarray | None
    return_loss_db: np.ndarray | None
    s: np.ndarray | None = None
    is_named: bool = True
    comments: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def points(self):
        return len(self.frequency_mhz)

    @property
    def from_mhz(self):
        return float(self.frequency_mhz[0])

    @property
    def to_mhz(self):
        return float(self.frequency_mhz[-1])


def mhz(frequency_mhz):
    """A frequency as sentences write it: `900`, `890.5`, `2,400`."""
    return f"{frequency_mhz:,.6f}".rstrip("0").rstrip(".")


def seen(text):
    """The text without what no eye sees and a terminal would obey."""
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)


def short(text, most=SHOWN_CHARACTERS):
    """As much of a line as a sentence can hold."""
    one_line = seen(" ".join(text.split()))
    return one_line if len(one_line) <= most else one_line[: most - 1] + "…"
