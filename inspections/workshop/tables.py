"""Work orders, and the lines of one."""

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from fleet.templatetags.lengths import length_cell, length_unit

from ..models import WorkOrder
from ..tables import PlainTable, TemplateCell
from ..templatetags.figures import figure
from ..templatetags.reason_text import stored_also, stored_why
from .sheets import is_estimated


class _StatusColumn(TemplateCell):
    def get_context_data(self, *, record, table, **kwargs):
        context = super().get_context_data(record=record, table=table, **kwargs)
        return context | {"value": record.status_on(table.on)}


class WorkOrderTable(tables.Table):
    number = tables.Column(
        "Work order",
        linkify=lambda record: record.get_absolute_url(),
        attrs={"th": {"class": "at-lead"}, "td": {"class": "at-lead strong"}},
    )
    mat = tables.Column(linkify=True, order_by="mat__number", attrs={"cell": {"class": "at-lead"}})
    cables = tables.Column("Cables", attrs={"cell": {"class": "num", "data-name": "cables"}})
    raised_on = tables.DateColumn("j M Y", verbose_name="Raised", attrs={"cell": {"class": "nowrap at-end"}})
    recorded_by = tables.Column("By", default="not recorded", attrs={"cell": {"class": "bare"}})
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
        fields = ("number", "mat", "cables", "raised_on", "recorded_by", "depot", "status")
        attrs = {"aria-label": "Work orders"}
        empty_text = "No work orders yet."

    def __init__(self, rows, *, on, **kwargs):
        self.on = on
        super().__init__(rows, **kwargs)

    def render_recorded_by(self, value):
        return value.get_full_name() or value.get_username()

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


def _unit_of_line(record, table):
    return length_unit(is_estimated(table.planned.get(record.position, {})))


class OrderLineTable(PlainTable):
    """The cables to change, as the order keeps them, with cells to fill in by hand."""

    number = _line_column("No.", "num line-no col-no")
    position = tables.Column(
        "Position",
        attrs={"th": {"class": "num col-figure"}, "td": {"class": "num strong", "data-name": "position"}},
    )
    segment = _line_column("Cable out", "bare col-serial", "segment")
    length_m = tables.Column(
        "Length, m",
        "position",
        attrs={"th": {"class": "num col-figure"}, "td": {"class": "num bare col-figure", "data-unit": _unit_of_line}},
    )
    why = _line_column("Why", "bare wide col-why", "reasons")
    cable_in = _line_column("Cable in", "hand col-serial", **{"data-name": "in"})
    measured = _line_column("Measured, dB", "hand col-measured", **{"data-name": "measured"})
    done = _line_column("Done, or reason", "bare hand left col-done")

    class Meta(PlainTable.Meta):
        attrs = {"class": "table order-lines", "aria-label": "Cables to change"}

    def __init__(self, lines, sheet):
        self.number_of = {line.pk: number for number, line in enumerate(lines, start=1)}
        self.planned = {position["position"]: position for position in sheet["positions"]}
        super().__init__(lines)

    def render_number(self, record):
        return self.number_of[record.pk]

    def render_length_m(self, record):
        planned = self.planned.get(record.position)
        return length_cell(figure(planned["length_m"]), is_estimated(planned)) if planned else ""

    def render_why(self, value):
        also = stored_also(value)
        return format_html('{} <span class="quiet">{}</span>', stored_why(value), also) if also else stored_why(value)

    def render_cable_in(self):
        return ""

    def render_measured(self):
        return ""

    def render_done(self):
        return mark_safe('<span class="tick-box"></span>')
