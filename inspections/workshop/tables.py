"""Work orders as a table."""

import django_tables2 as tables

from ..models import WorkOrder


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
    status = tables.TemplateColumn(
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
