"""Where an account is signed in."""

import django_tables2 as tables
from django.utils.formats import date_format
from django.utils.timezone import localtime

from ..models import Session
from .actions import actions_column

WHEN = "j M Y, H:i"


class SessionTable(tables.Table):
    device = tables.TemplateColumn(
        template_name="fleet/_session_cell.html", verbose_name="Browser", attrs={"cell": {"class": "at-lead wide"}}
    )
    actions = actions_column("fleet/_session_actions.html", css="at-end screen")
    seen_at = tables.Column(verbose_name="Last seen", attrs={"cell": {"class": "nowrap", "data-name": "last seen"}})
    started_at = tables.DateTimeColumn(
        format=WHEN, verbose_name="Signed in", attrs={"cell": {"class": "nowrap", "data-name": "signed in"}}
    )
    address = tables.Column(default="not recorded", attrs={"cell": {"data-name": "from"}})

    class Meta:
        model = Session
        fields = ("device", "seen_at", "started_at", "address", "actions")
        attrs = {"aria-label": "Browsers that are signed in"}
        orderable = False
        prefix = "browsers-"

    def __init__(self, rows, *, is_own):
        """`is_own`: whether the browser that asks is one of them."""
        super().__init__(rows)
        self.others = len(self.rows) - is_own

    def render_seen_at(self, record, value):
        # when it was seen before is written with the answer
        return "now" if record.is_this else date_format(localtime(value), WHEN)
