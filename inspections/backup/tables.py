"""The copies beside the database, and what a restore would change."""

import django_tables2 as tables

from ..tables import PlainTable, template_cell

AT_LEAD = {"th": {"class": "wide"}, "td": {"class": "at-lead strong"}}
NUMBER = {"cell": {"class": "num"}}


class CopyTable(PlainTable):
    """The newest first."""

    written = tables.DateTimeColumn(verbose_name="Written", format="j M Y, H:i", attrs=AT_LEAD)
    what = tables.Column("Kind")
    size_mb = tables.Column("MB", attrs=NUMBER)
    look = template_cell("backup/_look.html", "", "at-end")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Copies on the disk of the pool"}

    def render_size_mb(self, value):
        return f"{value:,.1f}"


class KindTable(PlainTable):
    """Rows: each Kind of a Preview."""

    words = tables.Column("Kind", attrs=AT_LEAD)
    now = tables.Column("In the pool now", attrs=NUMBER)
    since = tables.Column("Entered since", attrs=NUMBER, default="–")
    then = tables.Column("In the back-up", attrs=NUMBER, default="left as they are")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "The pool now and the back-up"}

    def render_words(self, value):
        return value.capitalize()

    def render_now(self, value):
        return f"{value:,}"

    render_since = render_then = render_now
