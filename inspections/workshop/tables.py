"""Work orders, and the lines of one."""

import django_tables2 as tables
from django.utils.html import format_html, format_html_join
from django.utils.safestring import mark_safe

from fleet.access import name_of
from fleet.templatetags.serials import OUR_NUMBER

from ..models import WorkOrder
from ..tables import PlainTable, TemplateCell
from ..templatetags.figures import figure, short_day, two_places
from ..templatetags.reason_text import stored_also, stored_reading, stored_why
from .sheets import is_estimated
from .steps import step_letters

# in the heading, which has a second line anyway: a third one in each row would push ten cables off their sheet
CABLE_OUT_WITH_OURS = format_html("Cable out<br>* {}", OUR_NUMBER)
TICK_BOX = mark_safe('<span class="tick-box"></span>')


class _StatusColumn(TemplateCell):
    def get_context_data(self, *, record, table, **kwargs):
        context = super().get_context_data(record=record, table=table, **kwargs)
        return context | {"value": record.state_on(table.on)}


class WorkOrderTable(tables.Table):
    number = tables.Column(
        "Work order",
        linkify=lambda record: record.get_absolute_url(),
        attrs={"th": {"class": "at-lead"}, "td": {"class": "at-lead strong"}},
    )
    mat = tables.Column(linkify=True, order_by="mat__number", attrs={"cell": {"class": "at-lead"}})
    cables = tables.Column("Cables", attrs={"cell": {"class": "num", "data-name": "cables"}})
    raised_on = tables.DateColumn("j M Y", verbose_name="Raised", attrs={"cell": {"class": "nowrap at-end"}})
    given_to = tables.Column("For", default="", attrs={"cell": {"data-name": "for"}})
    planned_on = tables.DateColumn(
        "j M Y", verbose_name="Planned", default="", attrs={"cell": {"class": "nowrap", "data-name": "planned"}}
    )
    recorded_by = tables.Column("By", default="not recorded", attrs={"cell": {"class": "at-desk"}})
    depot = tables.Column(
        "Depot", "mat__depot", order_by="mat__depot__name", default="", attrs={"cell": {"class": "at-desk"}}
    )
    status = _StatusColumn(
        template_name="inspections/workshop/_status_cell.html",
        verbose_name="Status",
        empty_values=(),
        orderable=False,
        attrs={"cell": {"class": "bare wide"}},
    )

    class Meta:
        model = WorkOrder
        fields = ("number", "mat", "cables", "given_to", "planned_on", "raised_on", "recorded_by", "depot", "status")
        attrs = {"aria-label": "Work orders"}
        empty_text = "No work orders yet."

    def __init__(self, rows, *, on, **kwargs):
        self.on = on
        super().__init__(rows, **kwargs)

    def render_recorded_by(self, value, record):
        """Whoever loaded an order did not raise it."""
        return "not recorded" if record.load_id else name_of(value)

    def order_number(self, rows, is_descending):
        """By year and number: W-2026-1000 comes after W-2026-999, which the day of raising settles."""
        way = "-" if is_descending else ""
        return rows.order_by(f"{way}raised_on", f"{way}pk"), True


class MatOrderTable(WorkOrderTable):
    """The orders of one mat, newest first."""

    class Meta(WorkOrderTable.Meta):
        orderable = False
        exclude = ("mat", "recorded_by", "depot")
        attrs = {"aria-label": "Work orders of this mat"}


def _line_column(heading, css, accessor="position", **attrs):
    return tables.Column(heading, accessor, attrs={"cell": {"class": css} | attrs})


def _read(reading):
    return reading.go_no_go or ("no signal" if reading.no_signal else two_places(reading.cable_loss_db))


def _starred(segment):
    """On the phone there is no heading to say what the star is."""
    if segment.serial_is_ours:
        return format_html('{}* <span class="at-phone">{}</span>', segment, OUR_NUMBER)
    return str(segment)


def _loss_unit(table, record=None):
    """On the phone, where no heading says it; of a heading there is no record."""
    reading = record and table.told[record.pk].reading
    return "dB" if reading and reading.cable_loss_db is not None else ""


def _torque_unit(table, record=None):
    fitting = record and table.told[record.pk].fitting
    return "N·m" if fitting and fitting.torque_nm is not None else ""


class OrderLineTable(PlainTable):
    """The cables to change, as the order keeps them: what was told of each, else room to write and boxes for its steps.

    `told`: {line's key: Told}.
    """

    position = tables.Column(
        "Pos.", attrs={"th": {"class": "num col-position"}, "td": {"class": "num strong", "data-name": "position"}}
    )
    segment = _line_column("Cable out", "bare col-out", "segment")
    why = _line_column("Why", "bare col-why", "reasons")
    ticks = _line_column("Steps", "bare col-ticks")
    cable_in = _line_column("Cable in", "hand col-in", **{"data-name": "in"})
    measured = _line_column("New: dB, or read?", "hand col-measured", **{"data-name": "reads", "data-unit": _loss_unit})
    torque = _line_column("Torque, N·m", "hand col-measured", **{"data-name": "torque", "data-unit": _torque_unit})
    done = _line_column("Done, or left because", "bare hand left col-done")

    class Meta(PlainTable.Meta):
        attrs = {"class": "table order-lines", "aria-label": "Cables to change"}

    def __init__(self, lines, sheet, told):
        self.told = told
        self.planned = {position["position"]: position for position in sheet["positions"]}
        self.letters = step_letters(sheet)
        super().__init__(lines, exclude=() if self.letters else ("ticks",))
        if any(segment and segment.serial_is_ours for line in lines for segment in (line.segment, line.new_segment)):
            self.columns["segment"].column.verbose_name = CABLE_OUT_WITH_OURS

    def render_segment(self, value, record):
        planned = self.planned.get(record.position)
        estimated = ", estimated" if planned and is_estimated(planned) else ""
        length = f"{two_places(planned['length_m'])} m{estimated}" if planned else ""
        return format_html('{} <span class="second-line">{}</span>', _starred(value), length)

    def render_why(self, value):
        why = ", ".join(filter(None, [stored_why(value), stored_also(value)])) or "not recorded"
        return format_html('{} <span class="second-line">{}</span>', why, stored_reading(value))

    def render_ticks(self, record):
        letters = "" if record.is_answered else self.letters
        return format_html_join("", '<span class="step-box">{}</span>', ((letter,) for letter in letters))

    def render_cable_in(self, record):
        if record.done_on is None:
            return ""
        return _starred(record.new_segment) if record.new_segment else "none: it is empty"

    def render_measured(self, record):
        told = self.told[record.pk]
        if told.reading is not None:
            return _read(told.reading)
        return (told.fitting and told.fitting.end_test) or self._not_told(record)

    def render_torque(self, record):
        fitting = self.told[record.pk].fitting
        return figure(fitting.torque_nm) if fitting and fitting.torque_nm is not None else self._not_told(record)

    def _not_told(self, record):
        return "not recorded" if record.new_segment_id else ""

    def render_done(self, record):
        by = f", {record.answered_by}" if record.answered_by else ""
        if record.left_reason:
            return f"Left: {record.left_reason}{by}"
        return f"Done {short_day(record.done_on)}{by}" if record.done_on else TICK_BOX
