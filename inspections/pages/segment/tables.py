"""Every cause of a segment with the number behind it, and its fittings with what may be done with them."""

import django_tables2 as tables
from django.utils.html import format_html

from fleet.access import MAY_BENCH
from fleet.tables.register import FittingTable

from ...tables import PlainTable, template_cell
from ...templatetags.cause_text import limit_of, no_number, number_of, rests_on
from ...templatetags.figures import day_ahead
from ...templatetags.reason_text import cause_name


def _part_of_reason(heading, css, **attrs):
    return tables.Column(heading, "cause", attrs={"cell": {"class": css} | attrs})


class CauseTable(PlainTable):
    """A row for each reason of an assessment, the deciding one first."""

    cause = tables.Column("Cause", attrs={"td": {"class": "at-lead strong"}})
    number = _part_of_reason("Number", "num", **{"data-name": "number"})
    limit = _part_of_reason("Limit", "num", **{"data-name": "limit"})
    basis = _part_of_reason("Based on", "bare wide")
    due_on = _part_of_reason("Date", "at-end nowrap")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Causes"}

    def __init__(self, reasons, *, first_fitted_on, accepted_risk, on):
        self.first_fitted_on, self.accepted_risk, self.on = first_fitted_on, accepted_risk, on
        super().__init__(reasons)

    def render_cause(self, record):
        return cause_name(record)

    def render_number(self, record):
        number = number_of(record, self.first_fitted_on, self.on)
        return number or format_html('<span class="quiet">{}</span>', no_number(record))

    def render_limit(self, record):
        return limit_of(record, self.accepted_risk)

    def render_basis(self, record):
        return rests_on(record)

    def render_due_on(self, record):
        return day_ahead(record.due_on, self.on) or "no date"


class SegmentFittingTable(FittingTable):
    actions = template_cell("pages/segment/_fitting_actions.html", "Actions", "bare screen", accessor="pk")

    class Meta(FittingTable.Meta):
        sequence = ("...", "actions")

    def __init__(self, rows, *, user):
        super().__init__(rows, exclude=() if user.has_perm(MAY_BENCH) else ("actions",))
