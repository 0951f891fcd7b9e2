"""What files hold, and what is wrong with them."""

import django_tables2 as tables

from ..tables import PlainTable


class CountTable(PlainTable):
    """Rows by file. `word`: what becomes, or became, of the new ones. Corrected ones only where there are any."""

    file = tables.Column("File", attrs={"th": {"class": "wide"}, "td": {"class": "at-lead strong"}})
    rows_read = tables.Column("Rows", attrs={"cell": {"class": "num at-end", "data-unit": "rows"}})
    stored = tables.Column("Stored", attrs={"cell": {"class": "num"}})
    already_there = tables.Column("Stored before", attrs={"cell": {"class": "num"}})

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Rows by file"}

    def __init__(self, counts, word):
        added = [("stored", tables.Column(word, attrs={"cell": {"class": "num"}}))]
        if any(count.get("corrected") for count in counts.values()):
            added.append(("corrected", tables.Column("Corrected", default=0, attrs={"cell": {"class": "num"}})))
        rows = [{"file": file, "rows_read": count["rows"]} | count for file, count in counts.items()]
        super().__init__(rows, extra_columns=added)


class FindingTable(PlainTable):
    """Rows: findings of the check, each with the cell, what was found and what is expected."""

    file = tables.Column("File", attrs={"cell": {"class": "at-lead nowrap"}})
    line = tables.Column("Line", default="–", attrs={"cell": {"class": "num"}})
    column = tables.Column("Column", default="–")
    found = tables.Column("Found")
    expected = tables.Column("Expected", attrs={"cell": {"class": "wide"}})

    class Meta(PlainTable.Meta):
        pass
