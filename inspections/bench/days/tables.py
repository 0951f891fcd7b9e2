"""The list of bench days, and the readings of one of them."""

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from ...models import BenchDay
from ...tables import PlainTable, template_cell
from ...templatetags.bench_day_text import how_it_read
from ...templatetags.figures import short_day, signed, spread, two_places
from ...templatetags.reading_text import reading_in_words

NOT_RECORDED = mark_safe('<span class="quiet">not recorded</span>')
NUMBER = {"cell": {"class": "num"}}


class BenchDayTable(tables.Table):
    measured_on = tables.Column("Day", attrs={"cell": {"class": "at-lead nowrap"}})
    reads = tables.Column("The bench", "pk", order_by="shift_db", attrs={"cell": {"class": "wide bare"}})
    shift_db = tables.Column("Shift, dB", attrs={"cell": {"class": "num at-end nowrap", "data-unit": "dB"}})
    readings = tables.Column("Readings", attrs={"cell": {"class": "num", "data-name": "readings"}})
    instrument = tables.Column(order_by="instrument__name", default=NOT_RECORDED, attrs={"cell": {"class": "bare"}})

    class Meta:
        model = BenchDay
        fields = ("measured_on", "reads", "shift_db", "readings", "instrument")
        attrs = {"aria-label": "Bench days"}

    def render_measured_on(self, value, record):
        return format_html('<a class="row-link strong" href="{}">{}</a>', record.get_absolute_url(), short_day(value))

    def render_reads(self, record):
        return how_it_read(record)

    def render_shift_db(self, value, record):
        return f"{signed(value)} ± {spread(record.shift_sd_db)}"


def _loss(heading, css, name=None, **kwargs):
    attrs = {"class": css, "data-unit": "dB"} | ({"data-name": name} if name else {})
    return tables.Column(heading, attrs={"th": {"class": css}, "td": attrs}, **kwargs)


class DayReadingTable(PlainTable):
    """Rows: `DayReading`."""

    cable = tables.Column(accessor="segment", linkify=True, attrs={"cell": {"class": "at-lead nowrap"}})
    place = template_cell("bench/days/_place_cell.html", "Mat · position then", "bare nowrap", accessor="fitting")
    loss_db = _loss("As read, dB", "num at-end")
    own_db = _loss("Without the shift, dB", "num", "without the shift")
    expected_db = _loss("Expected, dB", "num", "expected")
    off_db = _loss("Off by, dB", "num", "off by")
    part = template_cell("bench/days/_part_cell.html", "Its part", "bare", accessor="left_out")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Readings of this bench day"}

    def __init__(self, readings):
        super().__init__(readings, exclude=() if any(each.left_out for each in readings) else ("part",))

    def render_loss_db(self, value):
        return two_places(value)

    def render_own_db(self, value):
        return two_places(value)

    def render_expected_db(self, value, record):
        return f"{two_places(value)} ± {spread(record.expected_sd_db)}"

    def render_off_db(self, value):
        return signed(value)


class ApartTable(PlainTable):
    """Readings that have no part in the trend. Rows: `Measurement`."""

    cable = tables.Column(accessor="segment", linkify=True, attrs={"cell": {"class": "at-lead nowrap"}})
    loss = tables.Column("As read, dB", "pk", attrs={"cell": {"class": "num at-end"}})
    why = template_cell("bench/days/_why_apart_cell.html", "Why", "bare", accessor="pk")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Readings that have no part in it"}

    def __init__(self, readings, *, said):
        super().__init__(readings)
        self.said = said

    def render_loss(self, record):
        return reading_in_words(record, unit="")
