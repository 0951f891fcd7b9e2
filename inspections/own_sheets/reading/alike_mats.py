"""Mats as the lists of one keeper call them: `M-3` of one is `M3` of another, and `M3`, `Mat 3` and `03` are mat 3."""

import re

from fleet.models.fields import code_key
from fleet.parsing.mat_lists import KnownMats
from fleet.parsing.number_lists import plain, read_list

_LETTERS_AND_NUMBER = re.compile(r"(?:([^\W\d_]+)[-. _]*)?0*(\d{1,9})")
_ENDING = re.compile(r"0*(\d{1,9})$")
_WORDS_FOR_MAT = {"m", "mat", "matte"}


class AlikeMats(KnownMats):
    """KnownMats that are found however the sign between letters and number is written, where only one is so."""

    def __init__(self, mats):
        super().__init__(mats)
        self._loosely, self._ending = {}, {}
        for mat in mats:
            self._loosely.setdefault(_loosely(mat.number), []).append(mat)
            if ending := _ENDING.search(mat.number):
                self._ending.setdefault(int(ending[1]), []).append(mat)

    def get(self, name):
        return super().get(name) or _only(self._alike(name))

    def written_otherwise(self, name):
        """The mat that differs from this name by no letter and by no number but noughts before it, or None."""
        return super().get(name) or _only(self._loosely.get(_loosely(name) or name, []))

    def _alike(self, name):
        letters, number = _loosely(name) or ("", None)
        found = self._loosely.get((letters, number), [])
        return found or (self._loosely.get(("", number), []) if letters in _WORDS_FOR_MAT else [])

    def which(self, name):
        """The mats that a name may stand for, where it may stand for more than one; else none."""
        if self.get(name):
            return []
        found = self._alike(name) or (self._ending.get(int(name), []) if name.isdecimal() and len(name) < 10 else [])
        return found if len(found) > 1 else []

    def choices(self, text):
        """[(names that leave open which, text with those of one kind in their place)]: what a list may mean.

        Mats are of one kind where all but the number is alike, as A-1 and A-2.
        """
        listed = read_list(text, self.has)
        names = [name for part in listed.parts for name in part.names]
        open_ones = {name: {_kind(mat): mat.number for mat in found} for name in names if (found := self.which(name))}
        kinds = list(next(iter(open_ones.values()), ()))
        kinds = [kind for kind in kinds if all(kind in found for found in open_ones.values())]
        if any(not part.names for part in listed.parts):
            return list(open_ones), []
        meant = [", ".join(open_ones[name][kind] if name in open_ones else name for name in names) for kind in kinds]
        return list(open_ones), [" ".join([numbers, *listed.left_out]) for numbers in meant]


def _only(found):
    return found[0] if len(found) == 1 else None


def _loosely(name):
    found = _LETTERS_AND_NUMBER.fullmatch(plain(name))
    return found and (found[1] or "", int(found[2]))


def _kind(mat):
    return code_key(_ENDING.sub("", mat.number))
