"""The list of events and the mats of one event."""

import django_tables2 as tables
from django.utils.html import format_html

from ..choices import UsageBasis, UsageState
from ..figures import short_day
from ..models import Event, UsageEvent
from ..selectors.usage import USUAL, WAITS, event_state, usage_state
from .actions import actions_column


class EventTable(tables.Table):
    name = tables.TemplateColumn(
        template_name="fleet/_event_cell.html", verbose_name="Event", attrs={"cell": {"class": "at-lead wide"}}
    )
    starts_on = tables.TemplateColumn(
        template_name="fleet/_dates_cell.html", verbose_name="When", attrs={"cell": {"class": "at-end nowrap"}}
    )
    place = tables.Column(attrs={"cell": {"class": "bare"}}, default="")
    state = tables.Column(empty_values=(), orderable=False, attrs={"cell": {"class": "bare"}})
    mats = tables.TemplateColumn(
        template_name="fleet/_event_mats.html", orderable=False, attrs={"cell": {"class": "bare"}}
    )

    class Meta:
        model = Event
        fields = ("name", "starts_on", "place", "state", "mats")
        attrs = {"aria-label": "Events"}
        empty_text = "No events here."

    def __init__(self, *args, on, **kwargs):
        self.on = on
        super().__init__(*args, **kwargs)

    def render_state(self, record):
        return state_in_words(event_state(record, self.on))


class EventMatTable(tables.Table):
    """The mats of one event, all on one page: people look for one by its number."""

    mat = tables.TemplateColumn(
        template_name="fleet/_usage_mat.html", order_by="mat__number", attrs={"td": {"class": "at-lead strong"}}
    )
    condition = tables.TemplateColumn(
        template_name="fleet/_usage_condition.html",
        verbose_name="Fit to go?",
        empty_values=(),
        orderable=False,
        attrs={"cell": {"class": "bare"}},
    )
    design = tables.Column(
        accessor="mat__design", order_by="mat__design__code", attrs={"cell": {"class": "bare nowrap"}}
    )
    depot = tables.Column(
        accessor="mat__depot", order_by="mat__depot__name", default="no depot", attrs={"cell": {"class": "bare nowrap"}}
    )
    state = tables.Column(attrs={"cell": {"class": "at-end"}})
    hours_out = tables.Column(
        verbose_name="Hours out", default="not recorded", attrs={"cell": {"class": "num", "data-name": "hours out"}}
    )
    fold_cycles = tables.Column(
        verbose_name="Fold cycles", default="not recorded", attrs={"cell": {"class": "num", "data-name": "fold cycles"}}
    )
    counts_for = tables.Column(
        verbose_name="Number of events", attrs={"cell": {"class": "num", "data-name": "number of events"}}
    )
    basis = tables.Column(verbose_name="Source", attrs={"cell": {"class": "bare"}})
    actions = actions_column("fleet/_usage_actions.html")

    class Meta:
        model = UsageEvent
        fields = (
            *("mat", "condition", "design", "depot"),
            *("state", "hours_out", "fold_cycles", "counts_for", "basis", "actions"),
        )
        attrs = {"aria-label": "Mats at this event"}
        empty_text = "No mats yet."

    def __init__(self, rows, *, on, may_act, may_call_off, shows_condition):
        self.on, self.may_call_off = on, may_call_off
        tells = {"actions": may_act, "condition": shows_condition, **_told(rows)}
        super().__init__(rows, exclude=[name for name, told in tells.items() if not told])

    def render_state(self, record):
        words = state_in_words(usage_state(record, self.on))
        home = f"home on {short_day(record.home_on)}" if record.home_on else ""
        also = ", ".join(filter(None, [home, "shares a day" if record.shares_a_day else ""]))
        return format_html("{} <span class='quiet'>({})</span>", words, also) if also else words

    def render_hours_out(self, value):
        return f"{value:g}"

    def render_basis(self, record):
        if record.state == UsageState.PLANNED and record.basis == UsageBasis.COUNTED:
            return ""  # nobody has counted what lies ahead
        return USUAL if record.basis == UsageBasis.USUAL else record.basis


def _told(rows):
    """{column: whether any of the rows has something else to say in it than is usual}"""
    over = any(row.state == UsageState.WENT for row in rows)
    return {
        "depot": len({row.mat.depot_id for row in rows}) > 1,
        "hours_out": over or any(row.hours_out is not None for row in rows),
        "fold_cycles": over or any(row.fold_cycles is not None for row in rows),
        "counts_for": any(row.counts_for != 1 for row in rows),
        "basis": any(row.basis != UsageBasis.COUNTED for row in rows),
    }


def state_in_words(state):
    """The state of an event or of a mat at one; what waits for an answer stands out."""
    return format_html("<b>{}</b>", state) if state == WAITS else state
