"""The list of accounts, with role and last sign-in; what was done to one, and who tried to sign in with it."""

import django_tables2 as tables
from django.contrib.auth.models import User

from ..access import name_of
from ..choices import AccountAct, SignInOutcome
from ..models import AccountChange, SignInTry

OUTCOMES = {
    SignInOutcome.SIGNED_IN: "Signed in",
    SignInOutcome.WRONG: "Wrong password",
    SignInOutcome.TOLD_TO_WAIT: "Told to wait after too many tries",
    SignInOutcome.DEACTIVATED: "Right password, but deactivated",
    SignInOutcome.OLD_PASSWORD: "Signed in, but wrong current password",
    SignInOutcome.LINK: "Signed in by a link",
    SignInOutcome.WRONG_LINK: "Pressed a link that did not work",
}
BY_A_COMMAND = "a command on the pool’s computer"


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


class AccountChangeTable(tables.Table):
    act = tables.Column(verbose_name="What", attrs={"cell": {"class": "at-lead"}})
    changed_at = tables.DateTimeColumn(
        format="j M Y, H:i", verbose_name="When", attrs={"cell": {"class": "at-end nowrap"}}
    )
    changed_by = tables.Column(verbose_name="By whom", empty_values=(), attrs={"cell": {"data-name": "by"}})

    class Meta:
        model = AccountChange
        fields = ("act", "changed_at", "changed_by")
        attrs = {"aria-label": "What was done to this account"}
        orderable = False
        prefix = "changes-"
        empty_text = "Nothing is recorded yet. What is done from now on stands here."

    def render_act(self, record):
        said = "Signed out" if record.act == AccountAct.SESSIONS_ENDED else record.act.capitalize()
        if record.act == AccountAct.MADE:
            return f"{said} as {record.detail}"
        return f"{said}: {record.detail}" if record.detail else said

    def render_changed_by(self, record):
        return name_of(record.changed_by) or BY_A_COMMAND


class SignInTryTable(tables.Table):
    outcome = tables.Column(verbose_name="What came of it", attrs={"cell": {"class": "at-lead"}})
    tried_at = tables.DateTimeColumn(
        format="j M Y, H:i", verbose_name="When", attrs={"cell": {"class": "at-end nowrap"}}
    )
    address = tables.Column(verbose_name="From the address", attrs={"cell": {"data-name": "from"}})

    class Meta:
        model = SignInTry
        fields = ("outcome", "tried_at", "address")
        attrs = {"aria-label": "Last tries to sign in"}
        orderable = False
        prefix = "tries-"
        empty_text = "Nobody tried in the last 90 days."

    def render_outcome(self, record):
        return OUTCOMES[record.outcome]
