"""The tables of a mat's page: its positions, its events, the cables that were in it."""

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from fleet.selectors.usage import usage_state
from fleet.tables.events import state_in_words
from fleet.templatetags.lengths import length_cell, length_unit
from fleet.templatetags.serials import serial_in_cell

from ...tables import PlainTable, template_cell
from ...templatetags.figures import day_ahead, figure, two_places


def _unit_of(record):
    return length_unit(record.place.build.length_is_estimated)


class PositionTable(PlainTable):
    """What each cable is worth. Rows: `AssessedPosition`."""

    number = tables.Column(
        "No.", "place__number", attrs={"th": {"class": "num"}, "td": {"class": "num at-lead strong"}}
    )
    cable = tables.Column(
        "Cable",
        "place__fitting__segment",
        linkify=True,
        default=mark_safe("<b>empty</b>"),
        attrs={"cell": {"class": "at-lead nowrap"}},
    )
    length_m = tables.Column(
        "Length,\u00a0m",
        "place__length_m",
        attrs={"th": {"class": "num"}, "td": {"class": "num", "data-name": "length", "data-unit": _unit_of}},
    )
    status = template_cell("pages/mat/_status.html", "Status", "at-end", accessor="assessment")
    why = template_cell("pages/mat/_why.html", "Why", "bare wide", accessor="assessment")
    loss = template_cell("pages/mat/_loss.html", "Newest loss,\u00a0dB", "num at-desk", accessor="assessment")
    due_on = tables.Column("Due", "assessment", default="", attrs={"cell": {"class": "nowrap", "data-name": "due"}})
    actions = template_cell("pages/mat/_actions.html", "Acts", "bare nowrap screen row-acts", accessor="place")

    class Meta(PlainTable.Meta):
        pass

    def __init__(self, positions, *, mat, on, may_log):
        self.mat, self.on = mat, on
        super().__init__(
            positions, attrs={"aria-label": f"Positions of {mat}"}, exclude=() if may_log else ("actions",)
        )

    def render_cable(self, value):
        return serial_in_cell(value)

    def render_length_m(self, value, record):
        shown = length_cell(two_places(value), record.place.build.length_is_estimated)
        if not record.place.differs:
            return shown
        specified = record.place.specified
        design = two_places(specified.length_m) + (", estimated" if specified.length_is_estimated else "")
        return format_html('{} <span class="quiet">(design: {})</span>', shown, design)

    def render_due_on(self, value):
        return day_ahead(value.due_on, value.assessed_on) or "no date"


class UsageTable(PlainTable):
    """Usage events of one mat with their events."""

    event = tables.Column(
        "Event", linkify=lambda record: record.event.get_absolute_url(), attrs={"cell": {"class": "at-lead wide"}}
    )
    dates = template_cell("pages/mat/_dates.html", "When", "at-end", accessor="event")
    state = tables.Column("State", attrs={"cell": {"class": "bare"}})
    hours_out = tables.Column(
        "Hours out", default="not recorded", attrs={"cell": {"class": "num", "data-name": "hours out"}}
    )
    fold_cycles = tables.Column("Fold cycles", default="not recorded", attrs={"cell": {"class": "num at-desk"}})
    counts_for = tables.Column("Number of events", attrs={"cell": {"class": "num at-desk"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Events of this mat"}

    def __init__(self, rows, *, on):
        self.on = on
        super().__init__(rows)

    def render_event(self, value):
        return value.name

    def render_state(self, record):
        return state_in_words(usage_state(record, self.on))

    def render_hours_out(self, value):
        return figure(value)
