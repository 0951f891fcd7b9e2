"""The due list as a file."""

import csv
from itertools import chain

from fleet.intake.kinds import guarded

# column of the file: where a row keeps it
COLUMNS = {
    "segment": "segment.serial",
    "mat": "mat.number",
    "position": "position",
    "length_m": "segment.length_m",
    "length_basis": "segment.length_basis",
    "cable_type": "segment.cable_type.name",
    "depot": "mat.depot.name",
    "owner": "mat.owner",
    "status": "status",
    "due_on": "due_on",
    "cause": "cause",
    "measure_reason": "measure_reason",
    "next_event": "next_event_code",
    "next_event_starts_on": "next_event_on",
    "before_event": "before_event.code",
    "causes_reached": "causes_reached",
    "age_due_on": "age_due_on",
    "age_limit_months": "age_limit_months",
    "age_applies": "age_applies",
    "age_basis": "age_basis",
    "event_count": "event_count",
    "event_limit": "event_limit",
    "events_given_way": "given_way",
    "events_applies": "events_applies",
    "events_due_on": "events_due_on",
    "events_basis": "events_basis",
    "events_not_confirmed": "not_confirmed",
    "reference_loss_db": "reference_loss_db",
    "no_signal": "no_signal",
    "measured_on": "measured_on",
    "loss_limit_db": "loss_limit_db",
    "verdict": "verdict",
    "loss_due_on": "loss_due_on",
    "chance_over": "chance_over",
    "accepted_risk": "accepted_risk",
    "trend_due_on": "trend_due_on",
    "trend_expected_on": "trend_expected_on",
    "trend_from": "trend_from",
    "trend_level_db": "trend_level_db",
    "trend_level_on": "trend_level_on",
    "trend_no_date_reason": "trend_no_date_reason",
    "damage_due_on": "damage_due_on",
    "damage_place": "damage_place",
    "work_order": "open_order",
}


class _Echo:
    """A stream that hands back what is written, so that a file goes out row by row."""

    def write(self, line):
        return line


def due_csv_lines(rows):
    """The lines of the file: bare numbers, units in the names; texts that a spreadsheet would run get a leading '."""
    writer = csv.writer(_Echo(), lineterminator="\r\n")
    return chain([writer.writerow(COLUMNS)], (writer.writerow(_values(row)) for row in rows.iterator(chunk_size=2_000)))


def _values(row):
    return [_text_of(_reach(row, path)) for path in COLUMNS.values()]


def _reach(row, path):
    value = row
    for name in path.split("."):
        value = getattr(value, name, None)
    return value


def _text_of(value):
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None else value
