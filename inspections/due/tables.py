"""The due list by cable, and the cables that it needs."""

from functools import partial

import django_tables2 as tables
from django.utils.html import format_html

from fleet.tables.sorting import sorted_by
from fleet.templatetags.lengths import length_cell

from ..assessment.assumptions import assumptions_of
from ..models import Assessment
from ..numeric.words import Status
from ..tables import PlainTable, named
from ..templatetags import due_cells
from ..templatetags.figures import short_day

_sorted_by = partial(sorted_by, then=["mat__number", "position"])


def _cell(heading, css="", accessor=None, **attrs):
    """A column drawn by its `render_…`, whatever the row holds."""
    return tables.Column(
        heading, accessor, empty_values=(), attrs={"cell": {"class": css}, "td": {"class": css} | attrs}
    )


def _needed_css(record):
    """The phone has room for an event that decides, and for no other."""
    return "needed at-second" if record.status == Status.CHANGE_BEFORE else "needed at-desk"


def _loss_css(record):
    """What is no number stands there without its name."""
    return "num bare" if record.reference_loss_db is None else "num at-second"


class DueTable(tables.Table):
    """The due list by cable; its cells are made in Python, for speed."""

    choose = tables.Column(due_cells.CHOOSE, empty_values=(), orderable=False, attrs={"cell": {"class": "pick"}})
    status = _cell("Status", "bare nowrap")
    segment = _cell("Cable", "at-lead nowrap")
    mat = _cell("Mat · position", "at-lead nowrap")
    length_m = _cell("Length, m", "num bare", "segment__length_m", **{"data-unit": "m"})
    why = _cell("Why", "wide bare", "cause")
    due_on = _cell("Due", "at-end nowrap")
    needed = _cell("Needed before", "needed", "needed_on", **{"class": _needed_css, "data-name": "before"})
    loss = _cell("Newest loss, dB", "num", "reference_loss_db", **{"class": _loss_css, "data-name": "loss"})

    class Meta:
        model = Assessment
        fields = ("choose", "status", "segment", "mat", "length_m", "why", "due_on", "needed", "loss")
        attrs = {"class": "table by-cable", "aria-label": "Cables by urgency"}

    order_status = _sorted_by("list_key")
    order_segment = _sorted_by("segment__serial")
    order_mat = _sorted_by("mat__number", "position")
    order_length_m = _sorted_by("segment__length_m")
    order_why = _sorted_by("cause", "due_on")
    order_due_on = _sorted_by("due_on")
    order_needed = _sorted_by("needed_on")
    order_loss = _sorted_by("reference_loss_db")

    def __init__(self, rows, *, on, may_bench, look_ahead_days, chosen=(), policy=None, **kwargs):
        self.on, self.look_ahead_days, self.chosen, self.may_bench = on, look_ahead_days, set(chosen), may_bench
        self.policy = policy
        super().__init__(rows, exclude=kwargs.pop("exclude", ()) if may_bench else ("choose",), **kwargs)

    def before_render(self, request):
        """Looks up the assumptions of the rows that this page shows; of no others."""
        records = [row.record for row in self.paginated_rows]
        self.assumptions = assumptions_of(records, self.on, self.policy)

    def render_choose(self, record):
        return due_cells.choose_cell(record, chosen=record.segment_id in self.chosen)

    def render_status(self, record):
        return due_cells.status_cell(record.status, self.look_ahead_days)

    def render_segment(self, record):
        return due_cells.cable_cell(record.segment)

    def render_mat(self, record):
        return due_cells.mat_cell(record)

    def render_length_m(self, value, record):
        return length_cell(f"{value:.2f}", record.segment.length_is_estimated)

    def render_why(self, record):
        return due_cells.why_cell(record, self.assumptions, may_bench=self.may_bench)

    def render_due_on(self, record):
        return due_cells.due_cell(record)

    def render_needed(self, record):
        return due_cells.event_cell(record)

    def render_loss(self, record):
        return due_cells.loss_cell(record)


def _needed_attrs(css, **attrs):
    """Cell attributes; the row of the sums, which has no length, is bold."""
    of_row = {"class": lambda record: f"{css} strong" if record["length_m"] is None else css}
    return {"th": {"class": css}, "td": of_row | attrs}


class NeededTable(PlainTable):
    """Cables to have ready, by length and cable type, with a column for each day; the last row counts them all."""

    length_m = tables.Column("Length, m", default="All", attrs=_needed_attrs("num at-lead"))
    cable_type = tables.Column("Cable type", default="", attrs=_needed_attrs("bare at-end wide"))

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Cables needed"}

    def __init__(self, needed, totals, days, *, on):
        rows = [_needed_row(kind.length_m, kind.cable_type, kind.counts, kind.estimated) for kind in needed]
        for row, kind in zip(rows, needed, strict=True):
            row |= {"on_shelf": kind.on_shelf, "to_get": kind.to_get}
        self.measure_first = any(kind.estimated for kind in needed)
        columns = [(f"by_{place}", _day_column(day, on)) for place, day in enumerate(days)]
        columns += [("on_shelf", _count_column("On the shelf")), ("to_get", _count_column("To get"))]
        total = _needed_row(None, "", totals) | {"to_get": sum(kind.to_get for kind in needed)}
        super().__init__([*rows, total], extra_columns=columns)

    def render_length_m(self, value, record):
        shown, estimated = f"{value:.2f}", record["estimated"]
        if 0 < estimated < record["most"]:
            return format_html(
                '{} <span class="second-line">{} of {} estimated</span>', shown, estimated, record["most"]
            )
        return format_html('{} <span class="second-line">estimated</span>', shown) if estimated else shown


def _needed_row(length_m, cable_type, counts, estimated=0):
    kind = {"length_m": length_m, "cable_type": cable_type, "estimated": estimated, "most": max(counts, default=0)}
    return kind | {f"by_{place}": n for place, n in enumerate(counts)}


def _day_column(day, on):
    return _count_column("Now" if day == on else f"By {short_day(day)}")


def _count_column(label):
    return tables.Column(label, default="", attrs=_needed_attrs("num", **{"data-name": named(label)}))
