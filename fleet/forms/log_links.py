"""Forms of links for phones."""

from django import forms

from ..limits import DAY_AHEAD
from ..selectors.log_links import accounts_for_links, link_mark
from ..validators import NAME_LENGTH, check_last_day, check_line
from .fields import DayField
from .record_forms import MarkForm
from .submissions import OnceForm


class LogLinkForm(OnceForm):
    name = forms.CharField(
        max_length=NAME_LENGTH,
        validators=[check_line],
        help_text="Which phone or group it is for: gate phone, Saturday volunteers.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    account = forms.ModelChoiceField(
        None,
        to_field_name="username",
        required=False,
        empty_label="a new account of that name",
        help_text="What the phone logs stands under this account. It may log events and no more.",
    )
    last_day = DayField(
        label="Last day",
        limit=DAY_AHEAD,
        help_text="At the end of this day it stops working, and signs out every phone that it signed in.",
    )

    def __init__(self, *args, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = on
        self.fields["account"].queryset = accounts_for_links()

    def clean_last_day(self):
        """Before anybody is asked about a day that is no last day."""
        check_last_day(self.cleaned_data["last_day"], self.on)
        return self.cleaned_data["last_day"]


class WithdrawLinkForm(MarkForm):
    """The button of one link."""

    version_of = staticmethod(link_mark)
    # nothing of a link changes but that it is withdrawn, which the act looks at itself
    act_values = {}
