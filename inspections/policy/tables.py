"""Values of the policy by design, depot or position."""

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from ..tables import PlainTable, template_cell
from ..templatetags.figures import counted, two_places

_OWNER = {"td": {"class": "at-lead strong"}}


class OwnerTable(PlainTable):
    """A row for each design, depot or position, a column for each setting that it may have of its own."""

    owner = tables.Column(attrs=_OWNER)

    class Meta(PlainTable.Meta):
        template_name = "inspections/policy/_owners.html"

    def __init__(self, rows, what, columns=()):
        """`rows`: (owner, [(slot, field)]), as the form gives them; `columns`: beside those of the settings."""
        settings = [(slot.setting.name, _setting_column(slot)) for slot, _ in rows[0][1]]
        owner = tables.Column(what, attrs=_OWNER)
        super().__init__(
            [{"owner": owner} | {pair[0].setting.name: pair for pair in slots} for owner, slots in rows],
            extra_columns=[("owner", owner), *settings, *columns],
            attrs={"aria-label": f"Policy by {what.lower()}"},
        )


class DesignTable(OwnerTable):
    """Each design leads to the limits of its positions; `own`: {design id: positions that have values of their own}."""

    def __init__(self, rows, own):
        self.own = own
        column = tables.Column("Positions", "owner", attrs={"cell": {"class": "bare"}})
        super().__init__(rows, "Design", [("positions", column)])

    def render_positions(self, value):
        count = self.own.get(value.pk, 0)
        said = f"{counted(count, 'position')} with limits of {'its' if count == 1 else 'their'} own" if count else ""
        address = reverse("inspections:policy-design", args=[value.code])
        return format_html(
            '<a href="{}">{}<span class="unseen"> of {}</span></a>', address, said or "set by position", value
        )


class PositionTable(OwnerTable):
    """Each position of a design with the length of its cable."""

    length_m = tables.Column("Cable,\u00a0m", "owner", attrs={"cell": {"class": "num at-end", "data-unit": "m"}})

    class Meta(OwnerTable.Meta):
        sequence = ("owner", "length_m", "...")

    def render_owner(self, value):
        return value.number

    def render_length_m(self, value):
        return two_places(value.length_m)


def owner_table(rows, what):
    """None where nobody has values of their own."""
    return OwnerTable(rows, what) if rows else None


def design_table(rows, own):
    return DesignTable(rows, own) if rows else None


def position_table(rows):
    return PositionTable(rows, "Position") if rows else None


def _setting_column(slot):
    heading = ", ".join(filter(None, [slot.setting.label, slot.unit]))
    return template_cell("policy/_owner_cell.html", heading, "policy-cell")
