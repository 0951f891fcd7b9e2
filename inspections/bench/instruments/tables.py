import django_tables2 as tables

from fleet.tables.actions import actions_column

from ...models import Instrument
from ...tables import template_cell


class InstrumentTable(tables.Table):
    name = tables.TemplateColumn(
        '<span class="strong">{{ record.name }}</span>'
        '{% if record.withdrawn_on %} <span class="quiet">withdrawn on {{ record.withdrawn_on|date:"j M Y" }}:'
        " {{ record.withdrawal_reason }}</span>{% endif %}",
        verbose_name="Instrument",
        attrs={"cell": {"class": "at-lead"}},
    )
    kind = template_cell("bench/instruments/_kind.html", "What it is", "bare", accessor="kind")
    uncertainty_db = template_cell(
        "bench/instruments/_uncertainty.html", "Standard uncertainty", "num at-end", orderable=False
    )
    repeatability_db = tables.TemplateColumn(
        '{% if value %}{{ value|stringformat:"g" }} dB{% else %}<span class="quiet">not recorded</span>{% endif %}',
        verbose_name="Repeatability",
        empty_values=(),
        attrs={"cell": {"class": "num", "data-name": "repeatability"}},
    )
    readings = tables.Column(verbose_name="Readings", attrs={"cell": {"class": "num", "data-name": "readings"}})
    last_used_on = tables.DateColumn(
        format="j M Y", default="never", verbose_name="Last used", attrs={"cell": {"class": "nowrap"}}
    )
    actions = actions_column("inspections/bench/instruments/_actions.html", "bare nowrap screen")

    class Meta:
        model = Instrument
        fields = ("name", "kind", "uncertainty_db", "repeatability_db", "readings", "last_used_on", "actions")
        attrs = {"aria-label": "Instruments"}
        order_by = "name"

    def __init__(self, *args, may_keep, **kwargs):
        super().__init__(*args, exclude=() if may_keep else ("actions",), **kwargs)
