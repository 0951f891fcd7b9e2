"""Files of the reference pieces with all their agreed values, of their readings, and of what was said of bench days."""

from fleet.intake import Column, Layout, refuse_early_ends, refuse_reason_without_day

from ..models import AgreedValue, BenchDaySaid, ReferenceReading

INSTRUMENTS_FILE = "instruments.csv"
REFERENCE_PIECES = Layout(
    "reference_pieces.csv",
    AgreedValue,
    (
        Column("piece", "piece__name", key=True, needed=True),
        Column("agreed_on", "agreed_on", key=True, needed=True, past="day of agreeing"),
        Column("agreed_loss_db", "agreed_loss_db"),
        Column("uncertainty_db", "uncertainty_db"),
        Column("depot", "piece__depot__name"),
        Column("basis", "basis"),
        Column("withdrawn_on", "piece__withdrawn_on"),
        Column("withdrawal_reason", "piece__withdrawal_reason"),
    ),
    head="piece",
    grows=True,
    stays=True,
)
REFERENCE_READINGS = Layout(
    "reference_readings.csv",
    ReferenceReading,
    (
        Column("piece", "piece__name", key=True, needed=True, refers_to=REFERENCE_PIECES.file),
        Column("measured_on", "measured_on", key=True, needed=True, past="day of measuring"),
        Column("repeat", "repeat", key=True, lowest=1),
        Column("loss_db", "loss_db", needed=True),
        Column("instrument", "instrument__name", refers_to=INSTRUMENTS_FILE),
    ),
)
BENCH_DAYS = Layout(
    "bench_days.csv",
    BenchDaySaid,
    (
        Column("measured_on", "measured_on", key=True, needed=True, past="bench day"),
        Column("instrument", "instrument__name", key=True, refers_to=INSTRUMENTS_FILE),
        Column("looked_on", "looked_on", past="day on which it was looked at"),
        Column("found", "found"),
        Column("not_trusted_reason", "not_trusted_reason"),
        Column("not_trusted_on", "not_trusted_on", past="day of marking", follows="not_trusted_reason"),
    ),
)


def check_agreed_values(files):
    """A value and its uncertainty are agreed together, or neither is yet."""
    table = files.table(REFERENCE_PIECES.file)
    if table is None:
        return
    refuse_reason_without_day(files, table)
    for row, loss_db, uncertainty_db in list(table.rows("agreed_loss_db", "uncertainty_db")):
        if (loss_db is None) != (uncertainty_db is None):
            column = "agreed_loss_db" if loss_db is None else "uncertainty_db"
            expected = "a number of dB beside the other one; both empty: not agreed yet"
            table.refuse(files.errors, row, column, "an empty cell", expected)


def check_bench_days(files):
    """A bench day is looked at or marked on that day or later; what was found is found by looking, and a mark has its
    reason."""
    table = files.table(BENCH_DAYS.file)
    if table is None:
        return
    refuse_early_ends(files, table, "measured_on", "looked_on")
    for row, looked_on, found in list(table.rows("looked_on", "found")):
        if found and looked_on is None:
            expected = "the day on which it was looked at, since found has a value"
            table.refuse(files.errors, row, "looked_on", "an empty cell", expected)
    refuse_early_ends(files, table, "measured_on", "not_trusted_on")
    for row, marked_on, reason in list(table.rows("not_trusted_on", "not_trusted_reason")):
        if marked_on is not None and not reason:
            expected = "why it is not to be trusted, since not_trusted_on has a value"
            table.refuse(files.errors, row, "not_trusted_reason", "an empty cell", expected)
