"""The list of mats: how each stands, why, and what it is needed for next."""

from dataclasses import dataclass
from functools import cached_property

import django_tables2 as tables
from django.template.loader import render_to_string

from fleet.models import Event
from fleet.selectors.usage import next_events_of
from fleet.tables.sorting import sorted_by

from ...templatetags.mat_condition_text import mat_why
from .strip_chart import strip


@dataclass(frozen=True)
class MatLine:
    """What the list says of one mat beside its register data. `status`, `strip`: drawn, "" where there is nothing."""

    url: str
    status: str
    why: str
    strip: str
    event: Event | None


def _column(heading, css, **kwargs):
    return tables.Column(heading, accessor="pk", attrs={"th": {"class": css}}, **kwargs)


class MatTable(tables.Table):
    """Rows: mats `with_order`. What only the rows of the page need is read for these alone, a `line` for each.

    Its template writes a row at once: a template or a method for each cell is what fifty mats would wait for.
    """

    number = _column("Mat", "at-lead")
    condition = _column("Status", "at-end")
    why = _column("Why", "mat-why", orderable=False)
    strip = _column("Cables", "", orderable=False)
    first_due_on = _column("Due", "")
    next_starts_on = _column("Next event", "at-desk next-event")
    depot = _column("Depot", "at-desk")
    design = _column("Design", "at-desk screen")

    class Meta:
        attrs = {"class": "table mats", "aria-label": "Mats"}
        template_name = "inspections/pages/mats/_table.html"

    order_number = sorted_by("number")
    order_condition = sorted_by("condition", "first_due_on", then=["number"])
    order_first_due_on = sorted_by("first_due_on", then=["number"])
    order_next_starts_on = sorted_by("next_starts_on", then=["number"])
    order_depot = sorted_by("depot__name", then=["number"])
    order_design = sorted_by("design__code", then=["number"])

    def __init__(self, rows, *, statuses, on, days, several_depots):
        self.statuses, self.on, self.days, self.several_depots = statuses, on, days, several_depots
        super().__init__(rows, order_by="condition", exclude=() if several_depots else ("depot",))

    @cached_property
    def lines(self):
        """[(mat, MatLine)] of this page."""
        mats = [row.record for row in self.paginated_rows]
        keys, drawn = [mat.pk for mat in mats], Drawn()
        conditions, events = self.statuses.conditions(keys, self.on), next_events_of(keys, self.on)
        return [(mat, self._line(mat, conditions[mat.pk], events.get(mat.pk), drawn)) for mat in mats]

    def _line(self, mat, condition, event, drawn):
        return MatLine(
            mat.get_absolute_url(),
            drawn.status(condition.status),
            mat_why(condition, self.days),
            drawn.strip(condition),
            event,
        )


class Drawn:
    """Marks that are alike in many rows, each drawn once."""

    def __init__(self):
        self._drawn = {}

    def status(self, status):
        return self._once("_status.html", status, {"status": status}) if status else ""

    def strip(self, condition):
        shown = {"condition": condition, "strip": strip(condition.places)}
        return self._once("_strip.html", condition.places, shown) if condition.places else ""

    def _once(self, template, alike, context):
        key = template, alike
        if key not in self._drawn:
            self._drawn[key] = render_to_string(f"inspections/pages/mats/{template}", context)
        return self._drawn[key]
