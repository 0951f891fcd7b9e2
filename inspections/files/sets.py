"""The files of instruments, measurements and policy, and the rules that only they have."""

from django.core.exceptions import ValidationError

from fleet.intake import LAYOUTS as FLEET_LAYOUTS
from fleet.intake import RULES as FLEET_RULES
from fleet.intake import Column, Layout, refuse_early_ends, refuse_reason_without_day
from fleet.intake.files import MAT_DESIGNS, POSITIONS
from fleet.intake.kinds import NUMBER, Kind

from ..choices import SETTINGS
from ..limits import UNLIKELY_LOSS_DB
from ..models import Instrument, Measurement, PolicyValue
from ..numeric.words import InstrumentKind, Method, Verdict
from ..validators import EVENT_COSTS, NO_SIGNAL, TypedLoss, check_event_costs, instrument_faults
from .reference_pieces import (
    BENCH_DAYS,
    REFERENCE_PIECES,
    REFERENCE_READINGS,
    check_agreed_values,
    check_bench_days,
)
from .work_orders import WORK_ORDERS, check_work_orders

WORDS = (Verdict.WITHIN.value, Verdict.OVER.value)


def _read_loss(text, decimal_comma):
    """dB as a number, or the word of a go/no-go tester; None stands for *no signal*."""
    word = text.strip()
    return word if word in WORDS else None if word == NO_SIGNAL else NUMBER.read(text, decimal_comma)


def _write_loss(value):
    return value if isinstance(value, str) else NUMBER.write(value)


def _with_words_apart(fields):
    loss = TypedLoss.of_column(fields["loss_db"])
    return {"loss_db": loss.loss_db, "no_signal": loss.no_signal, "go_no_go": loss.go_no_go}


LOSS = Kind(_read_loss, _write_loss, NO_SIGNAL)

INSTRUMENTS = Layout(
    "instruments.csv",
    Instrument,
    (
        Column("instrument", "name", key=True, needed=True),
        Column("standard_uncertainty_db", "standard_uncertainty_db"),
        Column("kind", "kind"),
        Column("set_limit_db", "set_limit_db"),
        Column("repeatability_db", "repeatability_db"),
        Column("leads_taken_out", "leads_taken_out"),
        Column("withdrawn_on", "withdrawn_on", stays=True),
        Column("withdrawal_reason", "withdrawal_reason", stays=True),
    ),
)
MEASUREMENTS = Layout(
    "measurements.csv",
    Measurement,
    (
        Column("segment", "segment__serial", key=True, needed=True, refers_to="segments.csv"),
        Column("measured_on", "measured_on", key=True, needed=True, past="day of measuring"),
        Column("repeat", "repeat", key=True, lowest=1),
        Column("loss_db", "loss_db", needed=True, own_kind=LOSS, word_path="go_no_go"),
        Column("frequency_mhz", "frequency_mhz"),
        Column("temperature_c", "temperature_c"),
        Column("instrument", "instrument__name", refers_to="instruments.csv"),
        Column("measured_by", "measured_by"),
        Column("method", "method"),
        Column("taken", "taken"),
        Column("reason", "reason"),
        Column("note", "note"),
        Column("doubt_reason", "doubt_reason"),
        Column("voided_on", "voided_on"),
        Column("void_reason", "void_reason", follows="voided_on"),
    ),
    more=_with_words_apart,
)
POLICY = Layout(
    "policy.csv",
    PolicyValue,
    (
        Column("setting", "setting", key=True, needed=True),
        Column("value", "value", needed=True),
        Column("design", "design__code", key=True, refers_to="mat_designs.csv"),
        Column("position", "position", key=True, lowest=1),
        Column("depot", "depot__name", key=True),
    ),
    of_file=lambda rows: rows.in_force(),
    stays=True,
)
OF_THE_BENCH = (INSTRUMENTS, MEASUREMENTS, REFERENCE_PIECES, REFERENCE_READINGS, BENCH_DAYS)
LAYOUTS = (*FLEET_LAYOUTS, *OF_THE_BENCH, WORK_ORDERS, POLICY)
FILE_NAMES = tuple(layout.file for layout in LAYOUTS)


def check_readings(files):
    """No reading is void before it was taken; a loss that hardly any cable has is worth a look."""
    table = files.table(MEASUREMENTS.file)
    if table is None:
        return
    refuse_early_ends(files, table, "measured_on", "voided_on")
    _refuse_what_it_cannot_show(files, table)
    for row, loss_db in table.rows("loss_db", where=table.new):
        if TypedLoss.of_column(loss_db).is_unlikely:
            expected = f"rarely above {UNLIKELY_LOSS_DB} dB for a few metres of cable; it can be stored all the same"
            files.warnings.add(table.file, table.lines[row], "loss_db", f"{loss_db:g} dB", expected)


def check_instruments(files):
    """Each has an uncertainty, its own or the default of its kind; a limit is set at a go/no-go tester alone."""
    table = files.table(INSTRUMENTS.file)
    if table is None:
        return
    refuse_reason_without_day(files, table)
    asked = ("kind", "standard_uncertainty_db", "set_limit_db", "leads_taken_out")
    for row, kind, own_db, set_limit_db, leads in list(table.rows(*asked)):
        for fault in instrument_faults(kind, own_db, set_limit_db, leads):
            value = table.values[fault.field][row]
            found = "an empty cell" if value is None else f"“{'yes' if value is True else format(value, 'g')}”"
            table.refuse(files.errors, row, fault.field, found, fault.expected)


def _refuse_what_it_cannot_show(files, table):
    """A word is that of a go/no-go tester, which shows no number; a number of one port is rarely read through."""
    if not files.can_follow(INSTRUMENTS.file):
        return
    kinds, new = files.known(INSTRUMENTS.file, "kind"), table.new
    for row, value, name, method in list(table.rows("loss_db", "instrument", "method")):
        kind = kinds.get(name, "")
        if isinstance(value, str) and kind != InstrumentKind.GO_NO_GO:
            found = f"“{value}” of {name or 'no instrument'}"
            table.refuse(files.errors, row, "loss_db", found, "a number of dB, or an instrument of kind go/no-go")
        elif isinstance(value, float) and kind == InstrumentKind.GO_NO_GO:
            table.refuse(files.errors, row, "loss_db", f"“{value:g}” of {name}", "within or over: it shows no number")
        elif kind == InstrumentKind.ONE_PORT and method in ("", Method.THROUGH) and new[row]:
            found = f"“{method}” of {name}" if method else f"an empty cell, of {name}"
            files.warnings.add(table.file, table.lines[row], "method", found, THROUGH_ONE_PORT)


THROUGH_ONE_PORT = (
    "far end open, far end shorted or on its element: with one port a loss is not read through; "
    "it can be stored all the same, and then counts as a loss as it stands"
)


def check_policy_owners(files):
    """A value belongs to the pool, or to a design, a position of it or a depot where its setting may differ there."""
    table = files.table(POLICY.file)
    if table is None:
        return
    for row, name, *place in list(table.rows("setting", "design", "position", "depot")):
        column, expected = _wrong_place(name, *place)
        if column:
            found = table.values[column][row]
            table.refuse(files.errors, row, column, f"“{found}”", expected)
    if files.can_follow(MAT_DESIGNS.file, POSITIONS.file):
        _refuse_positions_not_there(files, table)


def _wrong_place(name, design, position, depot):
    """(column, what it should hold) of a place where the setting has no value; ("", "") where it may have one."""
    setting = SETTINGS[name]
    if design is not None and depot is not None:
        return "depot", "a design or a depot, not both"
    if position is not None and design is None:
        return "position", "a design beside it: a position is one of a design"
    if design is not None and not setting.per_design:
        return "design", f"an empty cell: {name} is the same for all designs"
    if position is not None and not setting.per_position:
        return "position", f"an empty cell: {name} is the same for all positions of a design"
    if depot is not None and not setting.per_depot:
        return "depot", f"an empty cell: {name} is the same for all depots"
    if design is None and depot is None and not setting.per_pool:
        return "setting", f"the design or depot that {name} is for"
    return "", ""


def _refuse_positions_not_there(files, table):
    there = files.known(POSITIONS.file, "length_m")
    for row, design, position in list(table.rows("design", "position")):
        if position is not None and (design, position) not in there:
            has = ", ".join(str(number) for code, number in sorted(there) if code == design) or "none yet"
            table.refuse(files.errors, row, "position", f"“{position}”", f"a position of {design}: {has}")


def check_costs_of_events(files):
    """The two ends of what an event costs, whichever of them a file brings and which stands already."""
    table = files.table(POLICY.file)
    if table is None:
        return
    rows = {name: (row, value) for row, name, value in list(table.rows("setting", "value")) if name in EVENT_COSTS}
    if not rows:
        return
    stands = dict(POLICY.stored_rows().filter(setting__in=EVENT_COSTS).values_list("setting", "value"))
    ends = stands | {name: value for name, (_, value) in rows.items()}
    try:
        check_event_costs(*map(ends.get, EVENT_COSTS))
    except ValidationError:
        name, (row, _) = next(iter(rows.items()))
        expected = f"at least what event_cost_low says, {ends[EVENT_COSTS[0]]:g}"
        if name == EVENT_COSTS[0]:
            expected = f"at most what event_cost_high says, {ends[EVENT_COSTS[1]]:g}"
        table.refuse(files.errors, row, "value", f"“{table.values['value'][row]:g}”", expected)


RULES = (
    *FLEET_RULES,
    check_instruments,
    check_readings,
    check_agreed_values,
    check_bench_days,
    check_work_orders,
    check_policy_owners,
    check_costs_of_events,
)
