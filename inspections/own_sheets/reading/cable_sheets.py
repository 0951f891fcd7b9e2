"""Sheets of cables: a row each cable, in a mat or on the shelf."""

from dataclasses import dataclass, replace
from datetime import date

from fleet.choices import FittedBasis, NoteAbout, SerialBasis
from fleet.intake.files import FITTINGS, SEGMENTS
from fleet.limits import AS_NEW_LOSS, CABLE_LENGTH
from fleet.models.fields import code_key
from fleet.models.segments import ASSUMED_CABLE
from fleet.parsing.approximate_dates import ApproximateDate

from .. import meanings as field
from ..understood import Assumption
from .builds import cable_type
from .known_selectors import KnownCable, KnownStay
from .made_cables import add_stay_row, end_stay, last_day
from .mat_sheets import mat_numbers, said_otherwise, which_mat
from .sheet_rows import ITS_POSITION, SheetRow


@dataclass(frozen=True)
class SaidCable:
    """What a row says of a cable; without a serial it gets a running number."""

    row: SheetRow
    serial: str
    mat: str
    position: int | None
    length_m: float | None
    cable_type: str
    fitted: ApproximateDate | None
    removed: ApproximateDate | None

    @property
    def place(self):
        return self.row.place

    @property
    def as_place(self):
        return self.position, self.length_m, self.cable_type


def read_cables(rows):
    """SaidCables of a sheet; a mat stands for the rows below it that name none."""
    said, mat, counted = [], "", {}
    for row in rows:
        mat = _mat_of(row, mat)
        serial, length_m = row.code(field.SEGMENT), row.measure(field.LENGTH, "m", CABLE_LENGTH)
        position = row.position(field.POSITION)
        if row.is_unread(field.SEGMENT):
            continue
        if mat and row.column(field.POSITION) is None:
            position = counted[mat] = counted.get(mat, 0) + 1
            row.rows.making.assume(Assumption.POSITIONS, mat)
        if mat and position is None:
            row.lacks(field.POSITION, ITS_POSITION, field.MAT)
        elif mat or serial:
            days = row.past_day(field.FITTED), row.past_day(field.REMOVED)
            said.append(SaidCable(row, serial, mat, position, length_m, row.code(field.CABLE_TYPE), *days))
    return said


def _mat_of(row, above):
    """The mat that the row names; the one above it where it leaves it out and names a position."""
    if text := row.text(field.MAT):
        if mat := row.rows.making.register.mat(text):
            said_otherwise(row, text, mat)
            return mat.number
        numbers = [] if which_mat(row, field.MAT, text) else mat_numbers(row)
        return numbers[0] if len(numbers) == 1 else ""
    return above if row.text(field.POSITION) else ""


def cables_by_mat(said):
    """{mat: its SaidCables}, those first that are still in."""
    found = {}
    for cable in sorted(said, key=lambda each: each.removed is not None):
        if cable.mat:
            found.setdefault(cable.mat, []).append(cable)
    return found


def place_cables(said, making):
    """Rows of the cables and of where they are, once their mats have designs."""
    for cable in sorted(said, key=lambda each: each.fitted.first if each.fitted else date.min):
        _place(cable, making)


def _place(cable, making):
    register, row = making.register, cable.row
    held = register.stays(cable.mat, cable.position) if cable.mat else []
    there = next((stay for stay in reversed(held) if stay.removed_on is None), None)
    serial = cable.serial or (there.serial if there and there.stored and not _is_newer(cable, there) else "")
    known = register.cable(serial)
    made = None if known else _made_before(cable, serial, there, register)
    serial = known.serial if known else serial or register.next_serial()
    design = cable.mat and register.design_of(register.mat(cable.mat))
    specified = design and design.places.get(cable.position)
    length_m = cable.length_m or (known and known.length_m) or (specified and specified.length_m)
    if not length_m:
        row.lacks(field.LENGTH, "its length in m", field.MAT if cable.mat else field.SEGMENT)
        return
    kind = cable.cable_type or (known and known.cable_type) or (specified and specified.cable_type) or ASSUMED_CABLE
    is_there = _add_cable(cable, serial, length_m, cable_type(making, kind, row.place), making)
    if made and is_there:
        _take_place(cable, serial, made, making)
    elif cable.mat and is_there:
        _fit(cable, serial, there, making)


def _made_before(cable, serial, there, register):
    """The stay that the app made up and that tells of this cable: nothing else is known of it; None where none does."""
    if not serial or there is None or not there.stored or cable.removed:
        return None
    made, since = register.cable(there.serial), cable.fitted.first if cable.fitted else there.fitted_on
    was_read = made.first_read and made.first_read < since
    return there if made.untouched and since <= last_day(there) and not was_read else None


def _take_place(cable, serial, made, making):
    """What the app made up becomes what the sheet says: the same cable in the same place."""
    day, basis = _said_of_fitting(cable, serial, making) or (made.fitted_on, made.basis)
    stay = KnownStay(serial, cable.mat, cable.position, day, f"{basis}", stored=False)
    making.register.forget_stay(made)
    making.register.add_stay(stay)
    add_stay_row(stay, cable.place, making, _columns_of_stay(cable))
    making.rows.take_place(SEGMENTS.file, (serial,), (made.serial,))
    making.rows.take_place(FITTINGS.file, (serial, day), (made.serial, made.fitted_on))
    making.assume(Assumption.TAKEN_PLACES, f"{made.serial} is {serial}")


def _add_cable(cable, serial, length_m, kind, making):
    row = cable.row
    values = {"segment": serial, "cable_type": kind, "length_m": length_m, "lot": row.text(field.LOT)}
    values["as_new_loss_db"] = row.measure(field.AS_NEW_LOSS, "dB", AS_NEW_LOSS)
    if not cable.serial and not making.register.cable(serial):
        values["serial_basis"] = SerialBasis.GIVEN.value
        making.assume(Assumption.RUNNING_NUMBERS, serial)
    if cable.length_m is None and cable.mat:
        design = making.register.design_of(making.register.mat(cable.mat))
        values["length_basis"] = design.places[cable.position].length_basis if cable.position in design.places else None
    of_sheet = {"segment": field.SEGMENT, "cable_type": field.CABLE_TYPE, "length_m": field.LENGTH, "lot": field.LOT}
    columns = row.columns(**of_sheet, as_new_loss_db=field.AS_NEW_LOSS)
    if not making.add(SEGMENTS.file, values, row.place, columns):
        return False
    making.register.add_cable(KnownCable(serial, kind, length_m))
    for text in row.notes:
        making.note(NoteAbout.SEGMENT, serial, text, row.place)
    return True


def _is_newer(cable, stay):
    """Whether the row tells of a cable that came after this stay began, whatever of its own days was rough."""
    return cable.fitted is not None and cable.fitted.first > stay.fitted_on


def _fit(cable, serial, there, making):
    stored = next((stay for stay in making.register.stays_of(serial) if _is_same(stay, cable)), None)
    day, basis = _fitted(cable, serial, stored, making)
    if there and there.serial != serial and there.fitted_on < day:
        end_stay(there, day, cable.place, making)
    removed_on = cable.removed and cable.row.middle(field.REMOVED, cable.removed, NoteAbout.SEGMENT, serial)
    if removed_on and removed_on < day:
        day, basis = removed_on, FittedBasis.NOT_LATER_THAN.value
    stay = KnownStay(serial, cable.mat, cable.position, day, f"{basis}", removed_on, stored=False)
    add_stay_row(stay, cable.place, making, _columns_of_stay(cable))
    if stored is None:
        making.register.add_stay(stay)
    elif removed_on:
        making.register.replace_stay(stored, replace(stored, removed_on=removed_on))
    if removed_on:
        making.came_out.append((stay, cable.place))


def _columns_of_stay(cable):
    return cable.row.columns(
        segment=field.SEGMENT, fitted_on=field.FITTED, mat=field.MAT, position=field.POSITION, removed_on=field.REMOVED
    )


def _is_same(stay, cable):
    same_place = code_key(stay.mat) == code_key(cable.mat) and stay.position == cable.position
    return same_place and stay.stored and (stay.removed_on is None or cable.removed is not None)


def _fitted(cable, serial, stored, making):
    """(day, basis): those on record where the sheet says no other day, or one that files cannot correct."""
    if stored:
        if cable.fitted and not cable.fitted.first <= stored.fitted_on <= cable.fitted.last:
            making.assume(Assumption.LEFT_CABLES, stored.mat)
        return stored.fitted_on, stored.basis
    if said := _said_of_fitting(cable, serial, making):
        return said
    making.assume(Assumption.NOT_LATER, cable.mat)
    return making.first_seen((cable.mat, cable.position), code_key(serial)), FittedBasis.NOT_LATER_THAN.value


def _said_of_fitting(cable, serial, making):
    """(day, basis) as the sheet says; None where it does not."""
    if not cable.fitted:
        return None
    day, basis = cable.fitted.fitted(making.on)
    if basis == FittedBasis.ABOUT:
        making.roughly(field.FITTED, cable.row.text(field.FITTED), cable.fitted, day, serial, about=True)
    return day, basis.value
