"""What a first reading should be, by cable type and length; and how sure instruments are by default."""

import django_tables2 as tables

from ..tables import PlainTable
from ..templatetags.figures import figure, two_places

UNKNOWN = "not known"


def _db(heading, name, css="num", **kwargs):
    attrs = {"th": {"class": css}, "td": {"class": css, "data-name": name, "data-unit": "dB"}}
    return tables.Column(heading, attrs=attrs, default=UNKNOWN, **kwargs)


def _span(expected_db, most_db):
    return f"{two_places(expected_db)}, up to {two_places(most_db)}"


class FirstReadingTable(PlainTable):
    """Rows: `FirstReading`."""

    cable_type = tables.Column("Cable type", linkify=True, attrs={"cell": {"class": "at-lead"}})
    length_m = tables.Column("Length, m", attrs={"cell": {"class": "num", "data-unit": "m"}})
    through = _db("Through shows, dB", "through", css="num nowrap", accessor="expected_db")
    shown = _db("One port shows, dB", "one port", css="num nowrap", accessor="shown_db")
    calculated_db = _db("Calculated, dB", "calculated")
    ones = tables.Column("The first is", empty_values=(), attrs={"cell": {"class": "nowrap"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "What a first reading should be"}

    def render_length_m(self, value):
        return figure(value)

    def render_through(self, record):
        return _span(record.expected_db, record.through_most_db)

    def render_shown(self, record):
        return _span(record.shown_db, record.shown_most_db)

    def render_calculated_db(self, value):
        return two_places(value)

    def render_ones(self, record):
        if record.ones:
            return f"of {record.ones} fresh ones"
        return "calculated" if record.calculated_db is not None else "nobody said which cable it is"


class UncertaintyTable(PlainTable):
    """Rows: (kind of instrument, standard uncertainty in dB or None)."""

    kind = tables.Column("Instrument", "0", attrs={"cell": {"class": "at-lead"}})
    uncertainty_db = tables.Column(
        "Standard uncertainty, dB", "1", default="says no number", attrs={"cell": {"class": "num", "data-unit": "dB"}}
    )
    expanded_db = tables.Column(
        "Expanded (k = 2), dB",
        "1",
        default="",
        attrs={"cell": {"class": "num", "data-name": "expanded", "data-unit": "dB"}},
    )

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Standard uncertainty by kind of instrument"}

    def render_uncertainty_db(self, value):
        return f"{value:.3f}"

    def render_expanded_db(self, value):
        return f"{2 * value:.2f}"
