"""The list of accounts, with role and last sign-in."""

import django_tables2 as tables
from django.contrib.auth.models import User


class PeopleTable(tables.Table):
    username = tables.LinkColumn(
        "fleet:person",
        args=[tables.A("username")],
        verbose_name="Name",
        attrs={"cell": {"class": "at-lead wide"}, "a": {"class": "row-link strong"}},
    )
    role = tables.Column(attrs={"cell": {"class": "at-end"}})
    is_active = tables.Column(verbose_name="Account", attrs={"cell": {"class": "bare"}})
    last_login = tables.DateTimeColumn(
        format="Y-m-d",
        verbose_name="Last signed in",
        default="never",
        attrs={"cell": {"class": "nowrap", "data-name": "last signed in"}},
    )

    class Meta:
        model = User
        fields = ("username", "role", "is_active", "last_login")
        attrs = {"aria-label": "People"}

    def __init__(self, rows):
        """Somebody who keeps the pool alone sees nothing of roles."""
        super().__init__(rows, exclude=("role",) if len(rows) < 2 else ())

    def render_is_active(self, value):
        return "may sign in" if value else "deactivated"
