"""The list of mats: how each stands, why, and what it is needed for next."""

from functools import cached_property

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.html import format_html

from fleet.figures import short_day
from fleet.models import Mat
from fleet.selectors.usage import next_events_of
from fleet.tables.sorting import sorted_by

from ...templatetags.mat_condition_text import mat_why
from .strip_chart import strip


def _column(heading, css, **kwargs):
    return tables.Column(heading, accessor="pk", empty_values=(), attrs={"cell": {"class": css}}, **kwargs)


class MatTable(tables.Table):
    """Rows: mats `with_order`. What only the rows of the page need is read for these alone."""

    number = tables.Column("Mat", attrs={"cell": {"class": "at-lead"}})
    condition = _column("Status", "at-end nowrap")
    why = _column("Why", "bare mat-why", orderable=False)
    strip = _column("Cables", "bare", orderable=False)
    first_due_on = tables.Column("Due", default="", attrs={"cell": {"class": "nowrap", "data-name": "due"}})
    next_starts_on = tables.Column("Next event", default="", attrs={"cell": {"class": "at-desk"}})
    depot = tables.Column(order_by="depot__name", default="no depot", attrs={"cell": {"class": "bare at-desk nowrap"}})
    design = tables.Column(order_by="design__code", linkify=True, attrs={"cell": {"class": "at-desk nowrap screen"}})

    class Meta:
        model = Mat
        fields = ("number", "condition", "why", "strip", "first_due_on", "next_starts_on", "depot", "design")
        attrs = {"aria-label": "Mats"}

    order_number = sorted_by("number")
    order_condition = sorted_by("condition", "first_due_on", then=["number"])
    order_first_due_on = sorted_by("first_due_on", then=["number"])
    order_next_starts_on = sorted_by("next_starts_on", then=["number"])
    order_depot = sorted_by("depot__name", then=["number"])
    order_design = sorted_by("design__code", then=["number"])

    def __init__(self, rows, *, statuses, on, days, several_depots):
        self.statuses, self.on, self.days, self._drawn = statuses, on, days, {}
        super().__init__(rows, order_by="condition", exclude=() if several_depots else ("depot",))

    @cached_property
    def conditions(self):
        """{mat id: MatCondition} of the rows on this page."""
        return self.statuses.conditions(self._keys, self.on)

    @cached_property
    def next_events(self):
        return next_events_of(self._keys, self.on)

    @cached_property
    def _keys(self):
        return [row.record.pk for row in self.paginated_rows]

    def render_number(self, record):
        link = format_html('<a class="row-link strong" href="{}">{}</a>', record.get_absolute_url(), record.number)
        if not record.withdrawn_on:
            return link
        return format_html('{} <span class="quiet nowrap">withdrawn {}</span>', link, short_day(record.withdrawn_on))

    def render_condition(self, value):
        status = self.conditions[value].status
        return self._once("_status.html", status, {"status": status}) if status else ""

    def render_why(self, value):
        return mat_why(self.conditions[value], self.days)

    def render_strip(self, value):
        condition = self.conditions[value]
        shown = {"condition": condition, "strip": strip(condition.places)}
        return self._once("_strip.html", condition.places, shown) if condition.places else ""

    def _once(self, template, alike, context):
        """What is alike in many rows is rendered once: marks by the hundred would cost most of the page."""
        key = template, alike
        if key not in self._drawn:
            self._drawn[key] = render_to_string(f"inspections/pages/mats/{template}", context)
        return self._drawn[key]

    def render_first_due_on(self, value):
        return short_day(value)

    def render_next_starts_on(self, record):
        event = self.next_events.get(record.pk)
        if event is None:
            return ""
        link = '<a href="{}">{}</a> <span class="quiet nowrap">{}</span>'
        return format_html(link, event.get_absolute_url(), event.name, short_day(event.starts_on))
