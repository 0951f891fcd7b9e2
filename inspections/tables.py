"""What the tables of all rooms share."""

from dataclasses import dataclass

import django_tables2 as tables


class TemplateCell(tables.TemplateColumn):
    """A cell that is a tiny template; its template finds the table as `table`, whatever the page calls it.

    `unseen` heads a column without a heading for those who hear the page.
    """

    unseen = "Actions"

    def get_context_data(self, *, table, **kwargs):
        return super().get_context_data(table=table, **kwargs) | {"table": table}


def template_cell(template_name, heading, css="", **kwargs):
    """A column of tiny templates below `templates/inspections/`; drawn whatever the row holds."""
    column = TemplateCell(
        template_name=f"inspections/{template_name}",
        verbose_name=heading,
        empty_values=(),
        attrs={"cell": {"class": css}},
        **kwargs,
    )
    if "pick" in css.split():
        column.unseen = "Choose"
    return column


def named(label):
    """The heading as the phone writes it before a figure; one that ends in a figure itself is set apart from it."""
    name = label[0].lower() + label[1:]
    return f"{name}:" if name[-1].isdigit() else name


class PlainTable(tables.Table):
    """Part of a page: in the order it is given, all rows at once."""

    class Meta:
        orderable = False


@dataclass(frozen=True)
class FoldedTable:
    """A long table: the first rows in sight, the `more` others folded (`rest` None: there are none)."""

    shown: tables.Table
    rest: tables.Table | None
    more: int


def folded(make_table, rows, most):
    rows = list(rows)
    return FoldedTable(
        make_table(rows[:most]), make_table(rows[most:]) if len(rows) > most else None, max(len(rows) - most, 0)
    )
