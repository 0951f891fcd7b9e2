"""Why something is deleted, and what the page said would follow."""

from django import forms

from fleet.forms.record_forms import VersionForm, reason_field


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


class DeleteFittingForm(DeleteForm):
    readings = forms.BooleanField(required=False, initial=True)

    def __init__(self, data=None, *, deletion):
        super().__init__(data, deletion=deletion)
        if not deletion.readings:
            del self.fields["readings"]
            return
        field, one = self.fields["readings"], len(deletion.readings) == 1
        field.label = "This reading never was either" if one else f"These {len(deletion.readings)} readings never were"
        said = ", ".join(str(reading) for reading in deletion.readings)
        whose = "it was" if one else "they were"
        field.help_text = (
            f"{said}. With the tick {'it is' if one else 'they are'} void. "
            f"Take the tick out if {whose} really taken of {deletion.row.segment}."
        )
