"""Why something is deleted, and what the page said would follow."""

from django import forms

from .record_forms import VersionForm, reason_field


class DeleteForm(VersionForm):
    reason = reason_field("Why it never was so", autofocus=True)
    follows = forms.CharField(max_length=16, required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, deletion):
        super().__init__(data)
        self.deletion = deletion
        self.initial["follows"] = deletion.mark

    def renew_version(self, row):
        super().renew_version(row)
        self.data["follows"] = self.deletion.mark
