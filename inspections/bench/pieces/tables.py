"""The list of reference pieces, what was agreed of one, and its readings."""

import django_tables2 as tables

from fleet.tables.actions import actions_column

from ...tables import PlainTable, template_cell
from ...templatetags.figures import short_day, two_places
from ...templatetags.piece_text import agreed_text, departure_text


class PieceTable(PlainTable):
    """Rows: `ShownPiece`."""

    name = template_cell("bench/pieces/_name_cell.html", "Reference piece", "at-lead", accessor="piece")
    depot = tables.Column(accessor="piece__depot", default="of no one depot", attrs={"cell": {"class": "bare"}})
    agreed = tables.Column("Agreed", "value", empty_values=(), attrs={"cell": {"class": "at-end nowrap"}})
    last = tables.Column(
        "Last read", "last__reading__measured_on", default="never", attrs={"cell": {"data-name": "last read"}}
    )
    off = template_cell("bench/pieces/_departure_cell.html", "Then it was off by", "wide bare", accessor="last")
    actions = actions_column("inspections/bench/pieces/_actions.html", "bare nowrap screen")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Reference pieces"}

    def __init__(self, pieces, *, may_keep):
        super().__init__(pieces, exclude=() if may_keep else ("actions",))

    def render_agreed(self, value):
        return agreed_text(value)

    def render_last(self, value):
        return short_day(value)


class AgreedTable(PlainTable):
    """Rows: `AgreedValue`, the newest first."""

    agreed_on = tables.Column("Good from", attrs={"cell": {"class": "at-lead nowrap"}})
    agreed = tables.Column("Agreed", "pk", attrs={"cell": {"class": "at-end nowrap"}})
    basis = tables.Column("From what", empty_values=(), attrs={"cell": {"class": "wide bare"}})
    actions = template_cell("bench/pieces/_value_actions.html", "Actions", "bare nowrap screen", accessor="pk")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Agreed values"}

    def __init__(self, values, *, may_keep):
        super().__init__(values, exclude=() if may_keep else ("actions",))

    def render_agreed_on(self, value):
        return short_day(value)

    def render_agreed(self, record):
        return agreed_text(record)

    def render_basis(self, value):
        return value or "not recorded"


class PieceReadingTable(PlainTable):
    """Rows: `PieceRead`, the newest first."""

    day = template_cell("bench/pieces/_day_cell.html", "Day", "at-lead nowrap", accessor="reading")
    loss_db = tables.Column(
        "Read, dB", "reading__loss_db", attrs={"cell": {"class": "num", "data-name": "read", "data-unit": "dB"}}
    )
    off = tables.Column("Off by", "reading", attrs={"cell": {"class": "at-end"}})
    part = template_cell("bench/pieces/_part_cell.html", "Its part", "bare", accessor="reading")
    instrument = tables.Column("Instrument", "reading__instrument", default="not recorded")
    actions = template_cell("bench/pieces/_reading_actions.html", "Actions", "bare nowrap screen", accessor="reading")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Readings of the piece"}

    def __init__(self, reads, *, may_bench):
        super().__init__(reads, exclude=() if may_bench else ("actions",))

    def render_loss_db(self, value):
        return two_places(value)

    def render_off(self, record):
        return departure_text(record) or "no value agreed then"
