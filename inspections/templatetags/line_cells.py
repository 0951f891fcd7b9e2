"""Lines of the due list by mat: `{% load line_cells %}`, then `{% lines_of_group lines table %}`.

Made here, for as a template each takes longer than all that it says. A line opens to its cables; on paper to nothing.
"""

from django import template
from django.utils.html import format_html, format_html_join

from fleet.figures import short_day
from fleet.templatetags.addresses import addresses_of
from fleet.templatetags.lengths import length_in_m
from fleet.templatetags.serials import serial_in_words

from .assumption_text import in_short
from .due_cells import NOTHING, due_cell
from .due_text import (
    beside_cause,
    causes_in_short,
    loss_in_words,
    needed_before,
    positions_in_short,
    serials_of_line,
    worst_loss,
)

register = template.Library()
_NONE_PLANNED = format_html('<span class="quiet">{}</span>', "none planned")


@register.simple_tag
def lines_of_group(lines, table):
    """Rows of the table. `lines`: of one status; `table`: a LineTable or PaperLines."""
    cells = _LineCells(table)
    return format_html_join("\n", "{}", ((cells.row(line),) for line in lines))


class _LineCells:
    """Makes the cells of lines; addresses are asked for once, since they are many."""

    def __init__(self, table):
        self.assumptions, self.on_paper = table.assumptions, getattr(table, "on_paper", False)
        self.may_bench = getattr(table, "may_bench", False)
        self.mat_at, self.event_at = addresses_of("fleet:mat-detail"), addresses_of("fleet:event-detail")
        self.cable_at = addresses_of("fleet:segment-detail")
        self.order_at, self.change_at = (
            addresses_of(f"inspections:{name}") for name in ("work-order-detail", "mat-change")
        )

    def row(self, line):
        positions = positions_in_short(line)
        return format_html(
            '<tr role="row">{}<td role="cell" class="at-lead nowrap"><a class="strong" href="{}">{}</a>\n'
            '<span class="quiet">· {}</span></td><td role="cell" class="num at-desk">{}</td>'
            '<td role="cell" class="wide bare">{}{}</td><td role="cell" class="at-end nowrap">{}</td>{}'
            '<td role="cell" class="num at-desk">{}</td></tr>',
            self._pick(line, positions) if self.may_bench else NOTHING,
            self.mat_at(line.mat.number), line.mat, positions, len(line.rows),
            self._why(line), self._orders(line), due_cell(line.first), self._needed(line.first), worst_loss(line),
        )  # fmt: skip

    def _pick(self, line, positions):
        free = line.free
        box = format_html(
            '<label><input type="checkbox" name="lines" value="{}" data-line>'
            '<span class="unseen">Choose {}, {}: {}</span></label>',
            serials_of_line(free), line.mat, positions, line.first.status,
        ) if free else NOTHING  # fmt: skip
        return format_html('<td role="cell" class="pick">{}</td>', box)

    def _why(self, line):
        beside = beside_cause(line, self.assumptions)
        said = causes_in_short(line)
        if beside:
            said = format_html('{} <span class="quiet">· {}</span>', said, beside)
        if self.on_paper:
            return said
        return format_html('<details class="fold"><summary>{}</summary>{}</details>', said, self._cables(line))

    def _orders(self, line):
        orders = ((self.order_at(order), order) for order in line.orders)
        return format_html_join("", ' <a class="nowrap" href="{}">on {}</a>', orders)

    def _needed(self, row):
        needed = needed_before(row)
        if needed is None:
            return format_html('<td role="cell" class="needed at-desk" data-name="before">{}</td>', _NONE_PLANNED)
        return format_html(
            '<td role="cell" class="needed {}" data-name="before"><a href="{}">{}</a>\n'
            '<span class="nowrap{}">{}</span></td>',
            "at-second" if needed.decides else "at-desk", self.event_at(needed.code), needed.name,
            "" if needed.decides else " quiet", short_day(needed.day),
        )  # fmt: skip

    def _cables(self, line):
        """Each with a box of its own, and the way to change them."""
        cables = ((self._box(row), self._about(row)) for row in line.rows)
        return format_html(
            '<ul class="line-cables">{}</ul>{}',
            format_html_join("", "<li>{} {}</li>", cables),
            self._change(line.mat) if self.may_bench and line.first.is_due else NOTHING,
        )

    def _box(self, row):
        if row.open_order or not self.may_bench:
            return format_html("<span>{}</span>", row.position)
        return format_html(
            '<label><input type="checkbox" name="segments" value="{0}" data-mat="{1}"> {2}'
            '<span class="unseen"> Choose {0}</span></label>',
            row.segment.serial, row.mat.number, row.position,
        )  # fmt: skip

    def _about(self, row):
        segment, assumed = row.segment, self.assumptions[row.segment_id]
        return format_html(
            '<a href="{}">{}</a> <span>{}</span> <span>{}</span>{}',
            self.cable_at(segment.serial), serial_in_words(segment), length_in_m(segment), loss_in_words(row),
            format_html(' <span class="quiet">{}</span>', in_short(assumed)) if assumed else NOTHING,
        )  # fmt: skip

    def _change(self, mat):
        return format_html(
            '<p><a href="{}">Change<span class="unseen"> cables of {}</span></a></p>', self.change_at(mat.number), mat
        )
