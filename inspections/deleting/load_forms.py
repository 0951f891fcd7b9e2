"""Why a load is taken back, and what the page said would go."""

from django import forms

from fleet.forms.record_forms import reason_field
from fleet.forms.submissions import OnceForm


class TakeBackForm(OnceForm):
    reason = reason_field("Why it is taken back", autofocus=True)
    follows = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, look):
        super().__init__(data, initial={"follows": look.mark})
        self.look = look

    def renew(self, look):
        """After a refusal: what the page shows now is what the next act is about."""
        self.look, self.data = look, self.data.copy()
        self.data["follows"] = look.mark
