"""Samples, their mats while they are measured, shares, and what changed."""

import django_tables2 as tables
from django.utils.html import format_html

from fleet.figures import PERCENT

from ..models import Sample
from ..numeric.words import Verdict
from ..tables import PlainTable, template_cell
from ..templatetags.figures import counted, short_day

WHOLE_POOL = "the whole pool"


def _column(heading, name, css="", **kwargs):
    """A column of which the phone says the name."""
    return tables.Column(heading, attrs={"cell": {"class": css, "data-name": name}}, **kwargs)


def share_in_words(share):
    """`2 of 12, 16.7 %`; with undecided ones `1 to 3 of 12`."""
    if not share.size:
        return "none read"
    over = f"{share.over} to {share.most_over}" if share.undecided else f"{share.over}"
    parts = [f"{100 * share.over / share.size:.1f}"]
    if share.undecided:
        parts.append(f"{100 * share.most_over / share.size:.1f}")
    return f"{over} of {share.size}, {' to '.join(parts)}{PERCENT}"


def measured_in_words(found):
    """`3 of 12`; `3 of 11, 1 withdrawn`"""
    gone = f", {len(found.withdrawn)} withdrawn" if found.withdrawn else ""
    return f"{len(found.done)} of {found.to_measure}{gone}"


def interval_in_words(share):
    low, high = share.interval
    return f"{100 * low:.1f} to {100 * high:.1f}{PERCENT}" if share.size else ""


class SampleTable(tables.Table):
    """Rows: `Sample` with its `found`."""

    number = tables.Column(
        "Sample", linkify=lambda record: record.get_absolute_url(), attrs={"cell": {"class": "at-lead strong nowrap"}}
    )
    depot = _column("From", "from", default=WHOLE_POOL)
    drawn_on = tables.DateColumn("j M Y", verbose_name="Drawn", attrs={"cell": {"class": "nowrap at-end"}})
    measured = _column("Mats measured", "mats measured", "nowrap", accessor="found")
    over = _column("Mats with a cable over", "with a cable over", "nowrap", accessor="found__of_mats")
    interval = _column("95 % interval", "interval", "nowrap", accessor="found__of_mats")
    state = tables.Column("State", "pk", attrs={"cell": {"class": "wide bare"}})

    class Meta:
        model = Sample
        fields = ("number", "depot", "drawn_on", "measured", "over", "interval", "state")
        orderable = False
        attrs = {"aria-label": "Samples"}
        empty_text = "No sample yet."

    def render_measured(self, value):
        return measured_in_words(value)

    def render_over(self, value):
        return share_in_words(value)

    def render_interval(self, value):
        return interval_in_words(value)

    def render_state(self, record):
        if record.withdrawn_on:
            return f"withdrawn {short_day(record.withdrawn_on)}: {record.withdrawal_reason}"
        return f"ended {short_day(record.ended_on)}" if record.ended_on else "running"


class ComparedTable(PlainTable):
    """Samples of the same mats, the newest first. Rows: `SampleFound`."""

    sample = tables.Column("Sample", linkify=True, attrs={"cell": {"class": "at-lead strong nowrap"}})
    drawn_on = tables.DateColumn(
        "j M Y", accessor="sample__drawn_on", verbose_name="Drawn", attrs={"cell": {"class": "nowrap at-end"}}
    )
    measured = _column("Mats measured", "mats measured", "nowrap", accessor="mats")
    over = _column("Mats with a cable over", "mats over", "nowrap", accessor="of_mats")
    interval = _column("95 % interval", "interval", "nowrap", accessor="of_mats")
    cables = _column("Cables over", "cables over", "nowrap", accessor="of_cables")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "This sample beside others of the same mats"}

    def render_measured(self, record):
        return measured_in_words(record)

    def render_over(self, value):
        return share_in_words(value)

    def render_interval(self, value):
        return interval_in_words(value)

    def render_cables(self, value):
        return share_in_words(value)


class MatTable(PlainTable):
    """Rows: `MatFound`."""

    mat = tables.Column("Mat", "sampled__mat", linkify=True, attrs={"cell": {"class": "at-lead strong nowrap"}})
    stratum = _column("Oldest cable", "oldest cable", accessor="sampled__stratum")
    again = _column("Last sample", "last sample", accessor="sampled__again")
    progress = tables.Column("Measured", "cables", attrs={"cell": {"class": "at-end nowrap"}})
    found = tables.Column("Found", "cables", attrs={"cell": {"class": "wide bare"}})
    act = template_cell("sampling/_measure.html", "", "bare nowrap screen", accessor="sampled")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Mats of this sample"}

    def __init__(self, mats, *, may_measure):
        super().__init__(mats, exclude=() if may_measure else ("act",))

    def render_again(self, value):
        return "was in it" if value else "new"

    def render_progress(self, record):
        if record.is_done:
            return format_html("done, {}", counted(len(record.read), "cable"))
        if record.withdrawn_on:
            return f"out of service since {short_day(record.withdrawn_on)}"
        if not record.to_read:
            return "none left to read"
        if not record.read:
            return "not yet" if record.sampled.sample.is_running else "not measured"
        return f"{len(record.read)} of {counted(len(record.to_read), 'cable')}"

    def render_found(self, record):
        said = [_at(word, record.at(word)) for word in (Verdict.OVER, Verdict.UNDECIDED) if record.at(word)]
        gone = [cable.known["position"] for cable in record.cables if cable.gone]
        said += [_at("taken out unread", gone)] if gone else []
        return "; ".join(said) or ("all within" if record.is_done else "")


def _at(word, positions):
    return f"{word} at position {', '.join(map(str, positions))}"


class ShareTable(PlainTable):
    """Rows: (words, Share)."""

    what = tables.Column("Share of", "0", attrs={"cell": {"class": "at-lead"}})
    over = _column("Over", "over", "nowrap at-end", accessor="1")
    interval = _column("95 % interval", "interval", "nowrap", accessor="1")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Shares over the limit"}

    def render_over(self, value):
        return share_in_words(value)

    def render_interval(self, value):
        return interval_in_words(value)


class ChangedTable(PlainTable):
    """Rows: `CableChanged`."""

    cable = tables.Column("Cable", "was", attrs={"cell": {"class": "at-lead strong nowrap"}})
    mat = tables.Column("Mat · position", linkify=True, attrs={"cell": {"class": "nowrap"}})
    was = _column("At the draw", "at the draw", accessor="was")
    now = _column("At the end, or now", "now", accessor="now")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "What it changed on the due list"}

    def render_cable(self, value):
        return value["serial"]

    def render_mat(self, value, record):
        return f"{value} · {record.was['position']}"

    def render_was(self, value):
        return _status(value)

    def render_now(self, value):
        return _status(value)


class StrataTable(PlainTable):
    """Rows: (stratum, mats there, mats drawn)."""

    stratum = tables.Column("Oldest cable", "0", attrs={"cell": {"class": "at-lead"}})
    mats = _column("Mats", "mats", "num", accessor="1")
    drawn = _column("Drawn", "drawn", "num", accessor="2")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Mats by the age of their oldest cable"}


def _status(known):
    return ", by ".join(filter(None, [known["status"] or "not assessed", known["cause"]]))


def length_in_words(metres):
    return f"Cables from {metres} to below {metres + 1} m" if metres else "Cables below 1 m"
