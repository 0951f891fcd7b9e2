"""The due list as a table, and as a file."""

import csv
from functools import partial
from itertools import chain

import django_tables2 as tables

from fleet.intake.kinds import guarded
from fleet.tables.sorting import sorted_by

from ..assessment.assumptions import assumptions_of
from ..models import Assessment


def _cell(template_name, verbose_name, css="", **kwargs):
    return tables.TemplateColumn(
        template_name=f"inspections/due/{template_name}",
        verbose_name=verbose_name,
        empty_values=(),
        attrs={"cell": {"class": css}},
        **kwargs,
    )


_sorted_by = partial(sorted_by, then=["mat__number", "position"])


class DueTable(tables.Table):
    choose = _cell("_choose.html", "", "pick", orderable=False)
    status = _cell("_status.html", "Status", "bare")
    segment = _cell("_cable.html", "Cable", "at-lead nowrap")
    mat = _cell("_mat.html", "Mat · position", "at-lead nowrap")
    length_m = tables.Column("Length, m", "segment__length_m", attrs={"cell": {"class": "num at-desk"}})
    why = _cell("_why.html", "Why", "wide bare", accessor="cause")
    due_on = _cell("_day.html", "Due", "at-end nowrap")
    next_event = _cell("_event.html", "Next event", "at-desk", accessor="next_event_on")
    loss = _cell("_loss.html", "Newest loss, dB", "num at-desk", accessor="reference_loss_db")

    class Meta:
        model = Assessment
        fields = ("choose", "status", "segment", "mat", "length_m", "why", "due_on", "next_event", "loss")
        attrs = {"aria-label": "Cables by urgency"}

    order_status = _sorted_by("list_key")
    order_segment = _sorted_by("segment__serial")
    order_mat = _sorted_by("mat__number", "position")
    order_length_m = _sorted_by("segment__length_m")
    order_why = _sorted_by("cause", "due_on")
    order_due_on = _sorted_by("due_on")
    order_next_event = _sorted_by("next_event_on", "next_event_code")
    order_loss = _sorted_by("reference_loss_db")

    def __init__(self, rows, *, on, may_log, look_ahead_days, chosen=(), **kwargs):
        self.on, self.look_ahead_days, self.chosen = on, look_ahead_days, set(chosen)
        super().__init__(rows, exclude=kwargs.pop("exclude", ()) if may_log else ("choose",), **kwargs)

    def before_render(self, request):
        """What the lines of this page rest on."""
        records = [row.record for row in self.paginated_rows]
        self.assumptions = assumptions_of(records, self.on)

    def render_length_m(self, value):
        return f"{value:.2f}"


# column of the file: where a row keeps it
COLUMNS = {
    "segment": "segment.serial",
    "mat": "mat.number",
    "position": "position",
    "length_m": "segment.length_m",
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
    "age_due_on": "age_due_on",
    "age_limit_years": "age_limit_years",
    "age_basis": "age_basis",
    "event_count": "event_count",
    "event_limit": "event_limit",
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
