"""The files of the register and the log, in the order in which they are stored."""

from ..choices import NoteAbout
from ..models import (
    CableSegment,
    CableType,
    Depot,
    DesignPosition,
    Event,
    EventSeries,
    Fault,
    Fitting,
    Mat,
    MatDesign,
    Note,
    Price,
    StockEntry,
    UsageEvent,
)
from .kinds import SIGNED
from .layouts import Column, Layout

DEPOTS = Layout(
    "depots.csv",
    Depot,
    (
        Column("depot", "name", key=True, needed=True),
        Column("mail", "mail"),
        Column("withdrawn_on", "withdrawn_on", past="day of withdrawing", stays=True),
        Column("withdrawal_reason", "withdrawal_reason", stays=True),
    ),
)
CABLE_TYPES = Layout(
    "cable_types.csv",
    CableType,
    (
        Column("cable_type", "name", key=True, needed=True),
        Column("db_per_m_400mhz", "db_per_m_400mhz", needed=True),
        Column("db_per_m_1000mhz", "db_per_m_1000mhz", needed=True),
        Column("velocity_factor", "velocity_factor"),
        Column("bend_radius_mm", "bend_radius_mm"),
        Column("torque_min_nm", "torque_min_nm"),
        Column("torque_max_nm", "torque_max_nm"),
        Column("spanner_mm", "spanner_mm"),
        Column("connector_feed", "connector_feed"),
        Column("connector_element", "connector_element"),
        Column("withdrawn_on", "withdrawn_on", past="day of withdrawing", stays=True),
        Column("withdrawal_reason", "withdrawal_reason", stays=True),
    ),
)
MAT_DESIGNS = Layout(
    "mat_designs.csv",
    MatDesign,
    (
        Column("design", "code", key=True, needed=True),
        Column("width_m", "width_m"),
        Column("folds_m", "folds_m"),
        Column("weight_kg", "weight_kg"),
        Column("steps", "steps"),
        Column("withdrawn_on", "withdrawn_on", past="day of withdrawing", stays=True),
        Column("withdrawal_reason", "withdrawal_reason", stays=True),
    ),
)
POSITIONS = Layout(
    "positions.csv",
    DesignPosition,
    (
        Column("design", "design__code", key=True, needed=True, refers_to="mat_designs.csv"),
        Column("position", "number", key=True, needed=True, lowest=1),
        Column("length_m", "length_m", needed=True),
        Column("cable_type", "cable_type__name", needed=True, refers_to="cable_types.csv"),
        Column("length_basis", "length_basis", follows="length_m"),
    ),
)
PRICES = Layout(
    "prices.csv",
    Price,
    (
        Column("cable_type", "cable_type__name", key=True, refers_to="cable_types.csv"),
        Column("length_m", "length_m", key=True),
        Column("design", "design__code", key=True, refers_to="mat_designs.csv"),
        Column("price", "price"),
        Column("lead_time_days", "lead_time_days"),
        Column("supplier_number", "supplier_number"),
    ),
)
MATS = Layout(
    "mats.csv",
    Mat,
    (
        Column("mat", "number", key=True, needed=True),
        Column("design", "design__code", needed=True, refers_to="mat_designs.csv", stays=True),
        Column("depot", "depot__name"),
        Column("owner", "owner"),
        Column("acquired_on", "acquired_on", past="day of acquiring"),
        Column("acquired_basis", "acquired_basis", follows="acquired_on"),
        Column("withdrawn_on", "withdrawn_on"),
        Column("withdrawal_reason", "withdrawal_reason", follows="withdrawn_on"),
    ),
)
SEGMENTS = Layout(
    "segments.csv",
    CableSegment,
    (
        Column("segment", "serial", key=True, needed=True),
        Column("cable_type", "cable_type__name", needed=True, refers_to="cable_types.csv"),
        Column("length_m", "length_m", needed=True),
        Column("lot", "lot"),
        Column("as_new_loss_db", "as_new_loss_db"),
        Column("events_before", "events_before"),
        Column("length_basis", "length_basis", follows="length_m"),
        Column("serial_basis", "serial_basis"),
        Column("withdrawn_on", "withdrawn_on", past="day of withdrawing"),
        Column("withdrawal_reason", "withdrawal_reason", follows="withdrawn_on"),
    ),
)
FITTINGS = Layout(
    "fittings.csv",
    Fitting,
    (
        Column("segment", "segment__serial", key=True, needed=True, refers_to="segments.csv"),
        Column("fitted_on", "fitted_on", key=True, needed=True, past="day of fitting"),
        Column("mat", "mat__number", needed=True, refers_to="mats.csv", stays=True),
        Column("position", "position", needed=True, lowest=1, stays=True),
        Column("fitted_basis", "fitted_basis"),
        Column("removed_on", "removed_on", past="day of removing"),
        Column("removal_reason", "removal_reason", follows="removed_on"),
        Column("torque_nm", "torque_nm"),
        Column("end_test", "end_test"),
        Column("remark", "remark"),
    ),
)
SERIES = Layout(
    "series.csv",
    EventSeries,
    (
        Column("series", "code", key=True, needed=True),
        Column("name", "name", needed=True),
        Column("starts_on", "starts_on", needed=True),
        Column("until", "until", needed=True),
        Column("every_weeks", "every_weeks", lowest=1),
        Column("length_days", "length_days", lowest=1),
    ),
    stays=True,
)
EVENTS = Layout(
    "events.csv",
    Event,
    (
        Column("event", "code", key=True, needed=True),
        Column("name", "name", needed=True),
        Column("starts_on", "starts_on", needed=True),
        Column("ends_on", "ends_on", needed=True),
        Column("place", "place"),
        Column("weather", "weather"),
        Column("series", "series__code", refers_to="series.csv", stays=True),
        Column("changed_alone", "changed_alone", stays=True),
    ),
)
USAGE = Layout(
    "usage.csv",
    UsageEvent,
    (
        Column("event", "event__code", key=True, needed=True, refers_to="events.csv"),
        Column("mat", "mat__number", key=True, needed=True, refers_to="mats.csv"),
        Column("state", "state", needed=True),
        Column("counts_for", "counts_for", lowest=1),
        Column("basis", "basis"),
        Column("hours_out", "hours_out"),
        Column("fold_cycles", "fold_cycles"),
        Column("shares_a_day", "shares_a_day", derived=True, stays=True),
        Column("home_on", "home_on", past="day of coming home"),
    ),
)
FAULTS = Layout(
    "faults.csv",
    Fault,
    (
        Column("mat", "mat__number", key=True, needed=True, refers_to="mats.csv"),
        Column("reported_on", "reported_on", key=True, needed=True, past="day of the report"),
        Column("fault", "number", key=True, needed=True, lowest=1),
        Column("position", "position", lowest=1, stays=True),
        Column("place", "place", needed=True, stays=True),
        Column("what", "what"),
        Column("ended_on", "ended_on"),
        Column("end_reason", "end_reason", follows="ended_on"),
    ),
)
NOTES = Layout(
    "notes.csv",
    Note,
    (
        Column("note", "code", key=True, needed=True),
        Column("on", "noted_on", needed=True, past="day of the note"),
        Column("about", "about", needed=True, stays=True),
        Column("code", "code_of_subject", needed=True, about="about", stays=True),
        Column("text", "text", needed=True),
        Column("by", "written_by"),
        Column("done_on", "done_on", past="day it was done"),
    ),
    of_file=lambda notes: notes.with_code_of_subject(),
)
STOCK = Layout(
    "stock.csv",
    StockEntry,
    (
        Column("entry", "number", key=True, needed=True, lowest=1),
        Column("day", "day", needed=True, past="day of the entry"),
        Column("depot", "depot__name"),
        Column("cable_type", "cable_type__name", needed=True, refers_to="cable_types.csv"),
        Column("length_m", "length_m", needed=True),
        Column("change", "change", needed=True, own_kind=SIGNED),
        Column("segment", "segment__serial", refers_to="segments.csv"),
        Column("lot", "lot"),
        Column("reason", "reason", needed=True),
        Column("work_order", "work_order"),
        Column("note", "note"),
    ),
    stays=True,
)
# what the words of a column `about` point to
FILE_ABOUT = {NoteAbout.MAT: MATS.file, NoteAbout.SEGMENT: SEGMENTS.file, NoteAbout.EVENT: EVENTS.file}
_REGISTER = (DEPOTS, CABLE_TYPES, MAT_DESIGNS, POSITIONS, PRICES, MATS, SEGMENTS, FITTINGS, STOCK)
LAYOUTS = (*_REGISTER, SERIES, EVENTS, USAGE, FAULTS, NOTES)
