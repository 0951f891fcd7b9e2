import django_tables2 as tables

from fleet.tables.actions import actions_column

from ...models import Instrument


class InstrumentTable(tables.Table):
    name = tables.TemplateColumn(
        '<span class="strong">{{ record.name }}</span>'
        '{% if record.withdrawn_on %} <span class="quiet">withdrawn on {{ record.withdrawn_on|date:"j M Y" }}:'
        " {{ record.withdrawal_reason }}</span>{% endif %}",
        verbose_name="Instrument",
        attrs={"cell": {"class": "at-lead"}},
    )
    standard_uncertainty_db = tables.TemplateColumn(
        '{{ value|stringformat:"g" }}',
        verbose_name="Standard uncertainty, dB",
        attrs={"cell": {"class": "num at-end", "data-unit": "dB"}},
    )
    readings = tables.Column(verbose_name="Readings", attrs={"cell": {"class": "num"}})
    last_used_on = tables.DateColumn(
        format="j M Y", default="never", verbose_name="Last used", attrs={"cell": {"class": "nowrap"}}
    )
    actions = actions_column("inspections/bench/instruments/_actions.html", "bare nowrap screen")

    class Meta:
        model = Instrument
        fields = ("name", "standard_uncertainty_db", "readings", "last_used_on", "actions")
        attrs = {"aria-label": "Instruments"}
        order_by = "name"

    def __init__(self, *args, may_keep, **kwargs):
        super().__init__(*args, exclude=() if may_keep else ("actions",), **kwargs)
