"""Sheets of mats: a row each mat, or one for several that are alike."""

from dataclasses import dataclass

from fleet.choices import NoteAbout
from fleet.intake.files import MATS
from fleet.limits import MAT_WIDTH
from fleet.models.fields import code_key
from fleet.parsing.approximate_dates import ApproximateDate
from fleet.parsing.log_words import plain
from fleet.parsing.mat_lists import Unread, read_new_numbers

from .. import meanings as field
from ..understood import Assumption
from .builds import Build, build_of
from .known_selectors import KnownMat
from .rows import is_code

NUMBER = "a mat number, such as 4 or M-004"
_OF_BUILD = (field.LENGTHS, field.CABLES, field.BUILD, field.WIDTH)
_NEVER = {"never", "new", "original", "as new", "first", "nie", "neu", "original cables", "not yet", "erstausstattung"}


@dataclass(frozen=True)
class SaidMat:
    """What a row says of a mat. `changed`: when its cables were; `never`: they are as old as the mat.

    `relative`: of when they were changed it is said only how long ago.
    """

    number: str
    place: tuple[str, int]
    build: Build | None
    changed: ApproximateDate | None
    never: bool = False
    acquired: ApproximateDate | None = None
    relative: bool = False
    changed_text: str = ""


def read_mats(rows, making, before):
    """{mat number: SaidMat} of a sheet; what it says beside its build and its cables becomes rows.

    `before`: what sheets of mats that were read already say; a mat stands in one row of them.
    """
    said = {}
    for row in rows:
        for number in mat_numbers(row):
            if first := said.get(number) or before.get(number):
                where = f"row {first.place[1] + 1} of {first.place[0]}"
                row.unread(field.MAT, f"each mat once: {number} stands in {where} already")
                continue
            said[number] = _read_mat(row, number, making)
    return said


def mat_numbers(row):
    """The numbers that a cell names, as the register writes those that it has."""
    text, register = row.text(field.MAT), row.rows.making.register
    if not text:
        row.lacks(field.MAT, NUMBER, field.MAT)
        return []
    if known := register.stored_mat(text) or register.mats.get(code_key(text)):
        said_otherwise(row, text, known)
        return [known.number]
    numbers = [number for number in _new_numbers(text) if is_code(number)]
    if not numbers:
        row.unread(field.MAT, NUMBER)
    return [known.number if (known := register.stored_mat(number)) else number for number in numbers]


def said_otherwise(row, text, mat):
    """A mat was found by another way to write its number, and the page says so."""
    if code_key(text) != code_key(mat.number):
        row.rows.making.assume(Assumption.SAME_MAT, f"“{text}” is {mat.number}")


def which_mat(row, name, text):
    """List a cell that leaves open which mats it means, with what it may mean; whether it does."""
    known = row.rows.making.register.listed
    names, choices = known.choices(text)
    if names:
        which = " or ".join(mat.number for mat in known.which(names[0]))
        row.unread(name, f"which mat {names[0]} is: {which}", choices)
    return bool(names)


def _new_numbers(text):
    """Numbers of mats that are not on record. A name without a digit, or one that is no list, is taken as it stands."""
    if not any(c.isdecimal() for c in text):
        return [text]
    try:
        return read_new_numbers(text).numbers
    except Unread:
        return [text]


def known_mat(row):
    """The mat on record that the row names; None where it names none, or one that is listed because nobody knows it."""
    text = row.text(field.MAT)
    mat = row.rows.making.register.mat(text) if text else None
    if mat:
        said_otherwise(row, text, mat)
    elif text and not which_mat(row, field.MAT, text):
        row.unread(field.MAT, f"a mat that is on record: {NUMBER}")
    return mat


def _read_mat(row, number, making):
    acquired, withdrawn = row.past_day(field.ACQUIRED), row.day(field.WITHDRAWN)
    depot = row.code(field.DEPOT)
    if depot and code_key(depot) not in making.register.depots:
        making.register.depots[code_key(depot)] = depot
        making.assume(Assumption.DEPOT, depot)
    values = {"mat": number, "depot": depot, "owner": row.text(field.OWNER)}
    if acquired is not None:
        values["acquired_on"], values["acquired_basis"] = acquired.acquired(making.on)
        if not acquired.exact:
            text, day = row.text(field.ACQUIRED), values["acquired_on"]
            making.roughly(field.ACQUIRED, text, acquired, day, number, about=True)
    if withdrawn is not None:
        values["withdrawn_on"] = row.middle(field.WITHDRAWN, withdrawn, NoteAbout.MAT, number)
        values["withdrawal_reason"] = row.text(field.WITHDRAWAL_REASON)
    elif reason := row.text(field.WITHDRAWAL_REASON):
        making.note(NoteAbout.MAT, number, reason, row.place)
    columns = row.columns(
        mat=field.MAT,
        design=field.BUILD,
        depot=field.DEPOT,
        owner=field.OWNER,
        acquired_on=field.ACQUIRED,
        withdrawn_on=field.WITHDRAWN,
        withdrawal_reason=field.WITHDRAWAL_REASON,
    )
    making.add(MATS.file, values, row.place, columns, later=["design"])
    for text in row.notes:
        making.note(NoteAbout.MAT, number, text, row.place)
    stored = making.register.mat(number)
    since = acquired.first if acquired else stored and stored.since
    gone = values.get("withdrawn_on") or (stored and stored.withdrawn_on)
    making.register.add_mat(KnownMat(number, stored.design if stored else "", gone, bool(stored), since))
    never = plain(row.text(field.CABLES_CHANGED)) in _NEVER
    changed = None if never else row.past_day(field.CABLES_CHANGED)
    relative = changed is not None and row.rows.days.is_relative(row.text(field.CABLES_CHANGED))
    said = row.text(field.CABLES_CHANGED)
    return SaidMat(number, row.place, _build_of(row), changed, never, acquired, relative, said)


def _build_of(row):
    """The Build that the row says; None where it says nothing of it."""
    name, width_m, count = row.text(field.BUILD), row.measure(field.WIDTH, "m", MAT_WIDTH), row.whole(field.CABLES)
    lengths, cable_type = row.text(field.LENGTHS), row.code(field.CABLE_TYPE)
    answers = row.meaning.answers.get("builds") or {}
    said = {"width_m": width_m, "count": count, "cable_type": cable_type}
    try:
        build = build_of(name, **said, lengths=lengths, answer=answers.get(name))
    except ValueError as error:
        row.lacks(next(name for name in _OF_BUILD if row.text(name)), str(error), field.MAT)
        return Build(name, width_m) if name or width_m else None
    return build if name or width_m or count or build.lengths_m else None
