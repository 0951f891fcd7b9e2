"""The mats of a depot with their days, and the days of work."""

import django_tables2 as tables

from ..tables import PlainTable, template_cell

_OWNER = {"td": {"class": "at-lead strong"}}


class MatWorkTable(PlainTable):
    """A row for each MatWork: when it is home, what for, and when it is on the table."""

    mat = tables.Column(linkify=True, attrs={"th": {"class": "at-lead"}, "td": {"class": "at-lead strong nowrap"}})
    cables = tables.Column("Cables", attrs={"cell": {"class": "num at-end", "data-name": "cables"}})
    event = template_cell("calendar/_event_cell.html", "Ready for", "wide")
    home = template_cell("calendar/_home_cell.html", "At home before it", "wide")
    days = template_cell("calendar/_days_cell.html", "On the table", "wide")

    class Meta(PlainTable.Meta):
        attrs = {"aria-label": "Mats with their days at home"}

    def __init__(self, works, *, on):
        self.on = on
        super().__init__(works)


class WorkDaysTable(PlainTable):
    """`rows`: (owner, [(slot, field)]), as the form gives them, Monday first."""

    owner = tables.Column("Depot", attrs=_OWNER)

    class Meta(PlainTable.Meta):
        template_name = "inspections/policy/_owners.html"
        attrs = {"aria-label": "Cables that can be changed on each weekday", "class": "table week-days"}

    def __init__(self, rows):
        columns = [(slot.setting.name, _weekday_column(slot)) for slot, _ in rows[0][1]]
        super().__init__(
            [{"owner": owner} | {slot.setting.name: (slot, field) for slot, field in pairs} for owner, pairs in rows],
            extra_columns=columns,
        )


def _weekday_column(slot):
    return template_cell("policy/_owner_cell.html", slot.setting.label.rsplit(maxsplit=1)[-1], "policy-cell")
