"""The hidden token by which a form that is sent twice is known."""

import uuid

from django import forms


class OnceForm(forms.Form):
    """A form that acts once. Views hand `cleaned_data["token"]` to `services.submissions.act_once`."""

    token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
