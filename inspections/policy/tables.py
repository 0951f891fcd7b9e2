"""Values of the policy by design or depot."""

import django_tables2 as tables

from ..tables import PlainTable, template_cell

_OWNER = {"td": {"class": "at-lead strong"}}


class OwnerTable(PlainTable):
    """A row for each design or depot, a column for each setting that it may have of its own."""

    owner = tables.Column(attrs=_OWNER)

    class Meta(PlainTable.Meta):
        template_name = "inspections/policy/_owners.html"

    def __init__(self, rows, what):
        """`rows`: (owner, [(slot, field)]), as the form gives them."""
        columns = [(slot.setting.name, _setting_column(slot)) for slot, _ in rows[0][1]]
        owner = tables.Column(what, attrs=_OWNER)
        super().__init__(
            [{"owner": owner} | {pair[0].setting.name: pair for pair in slots} for owner, slots in rows],
            extra_columns=[("owner", owner), *columns],
            attrs={"aria-label": f"Policy by {what.lower()}"},
        )


def owner_table(rows, what):
    """None where nobody has values of their own."""
    return OwnerTable(rows, what) if rows else None


def _setting_column(slot):
    heading = ", ".join(filter(None, [slot.setting.label, slot.unit]))
    return template_cell("policy/_owner_cell.html", heading, "policy-cell")
