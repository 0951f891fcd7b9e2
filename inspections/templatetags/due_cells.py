"""Cells of the due list: made here, for a template each would take longer than all that they say."""

from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import mark_safe
from django.utils.text import slugify

from fleet.figures import day_ahead
from fleet.templatetags.serials import serial_in_cell

from ..numeric.words import Status
from .assumption_text import ask_in_words, assumption_in_words
from .cause_text import status_words
from .due_text import beside_of_cause, cause_in_short, loss_in_column, needed_before
from .figures import ago, short_day
from .reason_text import cause_name, in_words, reasons

NOTHING = mark_safe("")
_AN_EVENT = mark_safe('<span class="unseen"> an event</span>')
# the heading of the boxes, for those who hear it
CHOOSE = mark_safe('<span class="unseen">Choose</span>')


def choose_cell(row, *, chosen):
    if row.open_order:
        return NOTHING
    serial, ticked = row.segment.serial, mark_safe(" checked") if chosen else NOTHING
    return format_html(
        '<label><input type="checkbox" name="segments" value="{}" data-mat="{}"{}>'
        '<span class="unseen">Choose {}</span></label>',
        serial, row.mat.number, ticked, serial,
    )  # fmt: skip


def status_cell(status, days):
    """The event has a column of its own, and is not named here once more."""
    return format_html(
        '<span class="status {0}"><svg class="mark" aria-hidden="true"><use href="#mark-{0}"/></svg>'
        "<span>{1}{2}</span></span>",
        slugify(status), status_words(status, days=days), _AN_EVENT if status == Status.CHANGE_BEFORE else NOTHING,
    )  # fmt: skip


def cable_cell(segment):
    address = reverse("fleet:segment-detail", args=[segment.serial])
    return format_html('<a class="row-link strong" href="{}">{}</a>', address, serial_in_cell(segment))


def mat_cell(row):
    address = reverse("fleet:mat-detail", args=[row.mat.number])
    return format_html('<a href="{}">{}</a> <span class="quiet">· {}</span>', address, row.mat, row.position)


def why_cell(row, assumptions, *, may_bench):
    """The cause in short, which opens to all causes with their numbers, limits and days, and to what is assumed."""
    beside = beside_of_cause([row], assumptions)
    return format_html(
        '<details class="fold"><summary>{}{}</summary>{}{}{}</details>{}',
        cause_in_short(row),
        format_html(' <span class="quiet">· {}</span>', beside) if beside else "",
        format_html('<ul class="causes">{}</ul>', _items((cause_name(each), in_words(each)) for each in reasons(row))),
        _assumed(assumptions[row.segment_id]),
        _change(row.mat) if may_bench and row.is_due else "",
        _on_order(row.open_order) if row.open_order else "",
    )


def _items(named):
    return format_html_join("", "<li>{}: {}</li>", named)


def _assumed(assumptions):
    if not assumptions:
        return NOTHING
    items = format_html_join("", "<li>{}</li>", ((assumption_in_words(each),) for each in assumptions.each))
    ask = format_html('<p class="strong">{}</p>', ask_in_words(assumptions)) if assumptions.ask else NOTHING
    return format_html('<ul class="causes">{}</ul>{}', items, ask)


def _change(mat):
    address = reverse("inspections:mat-change", args=[mat.number])
    return format_html('<p><a href="{}">Change<span class="unseen"> cables of {}</span></a></p>', address, mat)


def _on_order(order):
    address = reverse("inspections:work-order-detail", args=[order])
    return format_html(' <a class="nowrap" href="{}">on {}</a>', address, order)


def due_cell(row):
    if not row.due_on:
        return "no date"
    day = day_ahead(row.due_on, row.assessed_on)
    return format_html('<time datetime="{}">{}</time>', row.due_on.isoformat(), day)


def event_cell(row):
    needed = needed_before(row)
    if needed is None:
        return mark_safe('<span class="quiet">none planned</span>')
    return format_html(
        '<a href="{}">{}</a> <span class="nowrap{}">{}</span>',
        reverse("fleet:event-detail", args=[needed.code]),
        needed.name,
        "" if needed.decides else " quiet",
        short_day(needed.day),
    )


def loss_cell(row):
    """The newest reading that can be compared, and its age."""
    if row.measured_on is None:
        return mark_safe('<span class="quiet">not measured</span>')
    age = ago(row.measured_on, row.assessed_on)
    return format_html('{} <span class="quiet at-desk">{}</span>', loss_in_column(row), age)
