"""What a work order repeats of its mat in a line or two: open faults that no line of it names, and open notes."""

from dataclasses import dataclass

# characters that fit in the widest of the usual fonts, by the spacing of the sheet: one line, two lines, four lines
ROOM = {"dense": 75, "": 170, "roomy": 380}


@dataclass(frozen=True)
class Remarks:
    """`texts` as they stand on the sheet; `more`: some had no room, and stand on the page of the mat."""

    texts: tuple[str, ...]
    more: bool


def remarks_in_short(sheet, room):
    """Faults first, then the newest notes, in `room` characters; sheets of before have none."""
    texts = [_fault_in_words(fault) for fault in sheet.get("faults", ())]
    texts += [note["text"] for note in sheet.get("notes", ())]
    shown = []
    for text in texts:
        if room <= 0:
            break
        shown.append(text if len(text) <= room else f"{text[: room - 1].rstrip()}…")
        # what stands between two of them takes room, too
        room -= len(text) + 3
    return Remarks(tuple(shown), shown != texts)


def _fault_in_words(fault):
    seen = f" ({fault['what']})" if fault["what"] else ""
    return f"fault: {fault['where']}{seen}"
