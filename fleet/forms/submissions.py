"""The hidden token by which a form that is sent twice is known."""

import uuid

from django import forms

NO_MARK = "The page could not be protected against being sent twice, so nothing is stored. Check it, and send it again."


class OnceForm(forms.Form):
    """A form that acts once. Views hand `cleaned_data["token"]` to `services.submissions.act_once`."""

    token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)

    def full_clean(self):
        """A missing or invalid token is reported above the form, as no field shows it; a new one replaces it."""
        super().full_clean()
        if self._errors.pop("token", None):
            self.add_error(None, NO_MARK)
            self.data = self.data.copy()
            self.data[self.add_prefix("token")] = str(uuid.uuid4())
