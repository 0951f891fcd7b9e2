"""The limits of the card as a table: a row a length, a column for each use that the records can tell."""

import django_tables2 as tables

from ..numeric.words import Clock
from ..tables import PlainTable
from ..templatetags.card_text import card_interval, card_limit
from ..templatetags.figures import two_places

HEADINGS = {
    "weekly": "If used weekly",
    "fortnightly": "If used fortnightly",
    "monthly": "If used monthly",
    "usual": "If used like here",
}


def _cell(name, css=""):
    return {"cell": {"class": css, "data-name": name}}


class _UseColumn(tables.Column):
    """Years at one of the card's uses."""

    def __init__(self, number, name):
        super().__init__(HEADINGS[name], accessor="by_use", empty_values=(), attrs=_cell(HEADINGS[name].lower()))
        self.number = number

    def render(self, value):
        limit = value[self.number]
        return card_limit(limit, Clock.YEARS) if limit else "nobody here goes so seldom"


class CardTable(PlainTable):
    """Rows: `CardRow`."""

    length_m = tables.Column("Cables up to", attrs={"cell": {"class": "at-lead strong"}})
    limit = tables.Column("Change after", attrs=_cell("change after", "strong"))
    interval = tables.Column("", empty_values=(), attrs=_cell("may lie at"))
    beyond = tables.Column("Watched longer", attrs=_cell("watched longer"))

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Limits by length"}

    def __init__(self, card):
        self.card = card
        uses = [(f"use_{number}", _UseColumn(number, name)) for number, name in enumerate(card.uses)]
        order = ("length_m", "limit", *(name for name, _ in uses), "interval", "beyond")
        super().__init__(card.rows, extra_columns=uses, sequence=order)
        unit = "events" if card.clock == Clock.EVENTS else "months"
        said = f"May lie at, {unit}"
        column = self.columns["interval"].column
        column.verbose_name, column.attrs = said, _cell(said.lower())

    def render_length_m(self, value):
        return f"{two_places(value)} m"

    def render_limit(self, value):
        return card_limit(value, self.card.clock)

    def render_interval(self, record):
        return card_interval(record, self.card.clock)

    def render_beyond(self, record):
        return f"{record.beyond} of {record.read}"
