"""The list of links for phones."""

import django_tables2 as tables

from ..models import LogLink
from .actions import actions_column
from .sorting import sorted_by


class LogLinkTable(tables.Table):
    name = tables.Column(attrs={"th": {"class": "at-lead wide"}, "td": {"class": "at-lead wide strong"}})
    state = tables.TemplateColumn(
        template_name="fleet/_log_link_state.html", verbose_name="Works", attrs={"cell": {"class": "at-end"}}
    )
    account = tables.TemplateColumn(template_name="fleet/_log_link_account.html", attrs={"cell": {"data-name": "as"}})
    used_at = tables.DateTimeColumn(
        format="j M Y, H:i",
        verbose_name="Last used",
        default="never",
        attrs={"cell": {"class": "nowrap", "data-name": "last used"}},
    )
    phones = tables.Column("Phones signed in", attrs={"cell": {"class": "num", "data-name": "phones signed in"}})
    made_at = tables.TemplateColumn(
        '<span class="nowrap">{{ record.made_at|date:"j M Y" }}</span> by {{ record.made_by }}',
        verbose_name="Made",
        attrs={"cell": {"data-name": "made"}},
    )
    actions = actions_column("fleet/_log_link_actions.html")

    class Meta:
        model = LogLink
        fields = ("name", "state", "account", "used_at", "phones", "made_at", "actions")
        attrs = {"aria-label": "Links for phones"}

    order_state = sorted_by("is_open", "ends_on", then=["name", "pk"])
    order_account = sorted_by("account__username", then=["name", "pk"])
    order_used_at = sorted_by("used_at", then=["name", "pk"])
