import django_tables2 as tables

from ..models import Sweep


class SweepTable(tables.Table):
    measured_on = tables.TemplateColumn(
        '<a class="row-link strong" href="{{ record.get_absolute_url }}">{{ value|date:"j M Y" }}</a>',
        verbose_name="Measured",
        attrs={"cell": {"class": "at-lead nowrap"}},
    )
    segment = tables.TemplateColumn(
        '<a href="{{ value.get_absolute_url }}">{{ value }}</a>',
        verbose_name="Cable",
        order_by="segment__serial",
        attrs={"cell": {"class": "nowrap"}},
    )
    loss_db = tables.TemplateColumn(
        '{% if value is None %}<span class="quiet">none</span>{% else %}{{ value|floatformat:2 }}{% endif %}',
        verbose_name="Loss, dB",
        empty_values=(),
        attrs={"cell": {"class": "num at-end", "data-unit": "dB"}},
    )
    method = tables.Column(verbose_name="How", attrs={"cell": {"class": "nowrap"}})
    span = tables.TemplateColumn(
        "{{ record.points }} points, {{ record.from_mhz|floatformat }} to {{ record.to_mhz|floatformat }} MHz",
        verbose_name="Sweep",
        orderable=False,
    )
    file_name = tables.Column(verbose_name="File", attrs={"cell": {"class": "bare"}})

    class Meta:
        model = Sweep
        fields = ("measured_on", "segment", "loss_db", "method", "span", "file_name")
        attrs = {"aria-label": "Kept sweeps"}
        order_by = ("-measured_on",)
