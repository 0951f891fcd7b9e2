"""The sweep files of `data/sweeps`, each with its right answers."""

import json
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent / "data/sweeps"


@dataclass(frozen=True)
class Case:
    file: str
    verdict: str
    points: list | None
    note: str | None
    far_end: str | None

    def __str__(self):
        return f"{self.file}, far end {self.far_end}" if self.far_end else self.file

    @property
    def path(self):
        return FOLDER / self.file


CASES = [Case(**case) for case in json.loads((FOLDER / "expected.json").read_text())]
