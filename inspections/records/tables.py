"""Lists of records, and what stands on one."""

import django_tables2 as tables
from django.utils.html import format_html

from ..models import MatRecord
from ..tables import PlainTable
from ..templatetags.figures import short_day


class RecordTable(tables.Table):
    number = tables.Column("Record", linkify=True, attrs={"cell": {"class": "at-lead nowrap strong"}})
    mat = tables.Column(linkify=True, order_by="mat__number", attrs={"cell": {"class": "nowrap"}})
    until_on = tables.Column("Made on", attrs={"cell": {"class": "at-end nowrap"}})
    made_for = tables.Column("For", default="", attrs={"cell": {"data-name": "for"}})
    recorded_by = tables.Column("By", default="not recorded", orderable=False, attrs={"cell": {"data-name": "by"}})
    state = tables.Column("State", "withdrawn_on", default="", attrs={"cell": {"class": "bare"}})

    class Meta:
        model = MatRecord
        fields = ("number", "mat", "until_on", "made_for", "recorded_by", "state")
        attrs = {"aria-label": "Records of mats"}
        empty_text = "No record has been made yet. Make one on the page of a mat."

    def render_until_on(self, value):
        return short_day(value)

    def render_state(self, value, record):
        return f"withdrawn {short_day(value)}: {record.withdrawal_reason}"


class MatRecordTable(RecordTable, PlainTable):
    """Those of one mat."""

    class Meta(RecordTable.Meta, PlainTable.Meta):
        exclude = ("mat",)
        attrs = {"aria-label": "Records of this mat"}


def _text(heading, name, css="", **attrs):
    return tables.Column(heading, name, default="", attrs={"cell": {"class": css, **attrs}})


class RecordPositionTable(PlainTable):
    """One row a cable in place. Rows: `positions` of a record's content."""

    position = _text("Pos.", "position", "num at-lead strong")
    cable = _text("Cable", "cable", "bare nowrap")
    loss = _text("Newest loss", "loss", "bare nowrap")
    status = _text("To be done, due", "status", "at-end bare")
    why = _text("Why", "why", "bare record-why")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables of the mat", "class": "table record-table"}

    def render_cable(self, value, record):
        return _with_second_line(value, f"{record['length']}, fitted {record['fitted']}")

    def render_loss(self, value, record):
        return _with_second_line(value, ", ".join(filter(None, [record["verdict"], record["measured"]])))

    def render_status(self, value, record):
        return _with_second_line(value, record["due"])


def _with_second_line(text, second):
    return format_html('{} <span class="second-line">{}</span>', text, second) if second else text
