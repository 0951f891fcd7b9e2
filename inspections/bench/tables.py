"""Mats to choose from at the bench."""

import django_tables2 as tables

from fleet.models import Mat


class BenchTable(tables.Table):
    number = tables.TemplateColumn(
        template_name="inspections/bench/_mat_cell.html",
        verbose_name="Mat",
        attrs={"cell": {"class": "at-lead nowrap"}},
    )
    asking = tables.TemplateColumn(
        template_name="inspections/bench/_asking_cell.html",
        verbose_name="Asks for a measurement",
        attrs={"cell": {"class": "wide bare"}},
    )
    measured_on = tables.TemplateColumn(
        template_name="inspections/bench/_measured_cell.html",
        verbose_name="Last measured",
        empty_values=(),
        attrs={"cell": {"class": "at-end"}},
    )
    design = tables.Column(order_by="design__code", attrs={"cell": {"class": "at-desk"}})
    depot = tables.Column(order_by="depot__name", default="none", attrs={"cell": {"class": "at-desk"}})

    class Meta:
        model = Mat
        fields = ("number", "asking", "measured_on", "design", "depot")
        attrs = {"aria-label": "Mats to measure"}
        empty_text = "No mat has that in its number, and no cable of that serial is in a mat."
