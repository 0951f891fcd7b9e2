"""The list of faults of all mats."""

import django_tables2 as tables

from ..access import name_of
from ..figures import short_day
from ..models import Fault
from ..selectors.faults import is_open
from .actions import actions_column
from .sorting import sorted_by


class FaultTable(tables.Table):
    mat = tables.Column(linkify=True, attrs={"cell": {"class": "at-lead strong"}})
    reported_on = tables.Column("Reported", attrs={"cell": {"class": "at-end nowrap"}})
    where = tables.Column("Where", attrs={"cell": {"class": "bare"}})
    what = tables.Column("What was seen", default="", orderable=False, attrs={"cell": {"class": "bare wide"}})
    follows = tables.Column("So", empty_values=(), orderable=False, attrs={"cell": {"class": "bare"}})
    depot = tables.Column(accessor="mat__depot", default="no depot", attrs={"cell": {"class": "bare at-desk"}})
    recorded_by = tables.Column("By", default="", orderable=False, attrs={"cell": {"class": "at-desk"}})
    actions = actions_column("fleet/_fault_actions.html", css="bare screen at-end")

    class Meta:
        model = Fault
        fields = ("mat", "reported_on", "where", "what", "follows", "depot", "recorded_by", "actions")
        attrs = {"aria-label": "Faults"}

    def __init__(self, faults, *, on, several_depots, **kwargs):
        self.on = on
        super().__init__(faults, exclude=() if several_depots else ("depot",), **kwargs)

    def render_where(self, value):
        return value[:1].upper() + value[1:]

    def render_recorded_by(self, value):
        return name_of(value)

    def render_reported_on(self, value):
        return short_day(value)

    def render_follows(self, record):
        """What a fault that is open means for its mat, or how it was closed."""
        if not is_open(record, self.on):
            return f"closed {short_day(record.ended_on)}: {record.end_reason}"
        return "change the cable" if record.is_of_cable else "holds the mat back"

    order_mat = sorted_by("mat__number", then=["-reported_on", "number"])
    order_reported_on = sorted_by("reported_on", then=["mat__number", "number"])
    order_where = sorted_by("place", "position", then=["-reported_on", "mat__number"])
    order_depot = sorted_by("mat__depot__name", then=["-reported_on", "mat__number"])
