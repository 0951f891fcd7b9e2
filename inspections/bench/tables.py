"""Mats to choose from at the bench, and lists of readings."""

from dataclasses import dataclass

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from fleet.models import Mat

from ..models.bench_days import bench_day_address
from ..tables import PlainTable, folded, template_cell
from ..templatetags.figures import short_day
from ..templatetags.reading_text import frequency_in_words, is_bare_number, reading_in_words, warmth_in_words
from .reading_selectors import ReadTogether, read_together

READINGS_IN_SIGHT = 24


class BenchTable(tables.Table):
    number = template_cell("bench/_mat_cell.html", "Mat", "at-lead nowrap")
    asking = template_cell("bench/_asking_cell.html", "Asks for a measurement", "wide bare")
    measured_on = template_cell("bench/_measured_cell.html", "Last measured", "at-end")
    design = tables.Column(order_by="design__code", attrs={"cell": {"class": "at-desk"}})
    depot = tables.Column(order_by="depot__name", default="none", attrs={"cell": {"class": "at-desk"}})

    class Meta:
        model = Mat
        fields = ("number", "asking", "measured_on", "design", "depot")
        attrs = {"aria-label": "Mats to measure"}
        empty_text = "No mat has that in its number, and no cable of that serial is in a mat."


def _reading_column(css, unit="dB"):
    attrs = {"class": css, "data-name": "reading", "data-unit": unit}
    return tables.Column("Reading, dB", "reading", attrs={"th": {"class": css}, "td": attrs})


def _unit_of(record):
    return "dB" if is_bare_number(record.reading) else None


class ReadingTable(PlainTable):
    """Readings of one cable. Rows: `ShownReading`."""

    day = tables.Column("Day", "reading", attrs={"cell": {"class": "at-lead nowrap"}})
    loss = _reading_column("num at-end", _unit_of)
    judgement = template_cell("bench/_reading_judgement.html", "Reference loss", "bare wide")
    taken = tables.Column("Taken", "reading", attrs={"cell": {"class": "bare nowrap"}})
    reason = tables.Column("Why", "reading", attrs={"cell": {"class": "bare"}})
    instrument = tables.Column("Instrument", "reading", attrs={"cell": {"data-name": "instrument"}})
    by = tables.Column("By", "reading", attrs={"cell": {"data-name": "by"}})
    actions = template_cell("bench/_reading_actions.html", "Acts", "bare nowrap screen row-acts", accessor="reading")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Readings"}

    def __init__(self, readings, *, may_bench):
        self.judgement = readings[0].judgement if readings else None
        super().__init__(readings, exclude=() if may_bench else ("actions",))

    def render_day(self, value):
        repeat = format_html(' <span class="quiet">repeat {}</span>', value.repeat) if value.repeat > 1 else ""
        day, address = value.measured_on, bench_day_address(value.measured_on, value.instrument_id)
        return format_html(
            '<a href="{}"><time datetime="{}">{}</time></a>{}', address, day.isoformat(), short_day(day), repeat
        )

    def render_loss(self, value, record):
        said = reading_in_words(value, unit="")
        return format_html("<del>{}</del>", said) if record.is_void else said

    def render_taken(self, value):
        return value.taken

    def render_reason(self, value):
        return value.reason

    def render_instrument(self, value):
        name = value.instrument or mark_safe('<span class="quiet">not recorded</span>')
        frequency, warmth = frequency_in_words(value), warmth_in_words(value)
        return format_html('{} <span class="second-line nowrap">at {}, {}</span>', name, frequency, warmth)

    def render_by(self, value):
        return value.measured_by or value.recorded_by or "not recorded"


def reading_table(readings, *, may_bench):
    return folded(lambda rows: ReadingTable(rows, may_bench=may_bench), readings, most=len(readings))


@dataclass(frozen=True)
class MatReadings:
    """Readings of the cables of one mat, those read together in one group; `more`: how many readings are folded."""

    shown: tuple[ReadTogether, ...]
    rest: tuple[ReadTogether, ...]
    may_bench: bool

    @property
    def judgement(self):
        return self.shown[0].rows[0].judgement if self.shown else None

    @property
    def more(self):
        return sum(len(group.rows) for group in self.rest)


def mat_readings(readings, *, may_bench):
    """The newest groups until READINGS_IN_SIGHT are in sight, the others folded."""
    groups, seen = read_together(readings), 0
    for number, group in enumerate(groups, 1):
        seen += len(group.rows)
        if seen >= READINGS_IN_SIGHT:
            return MatReadings(tuple(groups[:number]), tuple(groups[number:]), may_bench)
    return MatReadings(tuple(groups), (), may_bench)


class MoveTable(PlainTable):
    """Where each reading would go. Rows: `Move`."""

    position = tables.Column("Position", attrs={"cell": {"class": "num at-lead strong"}})
    loss = _reading_column("num at-end", _unit_of)
    taken = tables.Column("Taken", "reading", attrs={"cell": {"class": "bare"}})
    here = tables.Column(accessor="reading__segment", linkify=True, attrs={"cell": {"data-name": "from"}})
    there = tables.Column(
        accessor="there__segment",
        linkify=True,
        default=mark_safe("<b>no cable that day</b>"),
        attrs={"cell": {"data-name": "to"}},
    )

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Readings to move"}

    def __init__(self, moves, *, mat, other):
        super().__init__(moves)
        self.columns["here"].column.verbose_name = f"Cable in {mat}"
        self.columns["there"].column.verbose_name = f"Cable in {other}"

    def render_loss(self, value):
        return reading_in_words(value, unit="")

    def render_taken(self, value):
        repeat = f", repeat {value.repeat}" if value.repeat > 1 else ""
        instrument = f", {value.instrument}" if value.instrument else ""
        return f"{value.taken}{repeat}{instrument}"
