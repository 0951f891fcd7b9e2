"""Forms of notes."""

from django import forms

from ..limits import DAY_PASSED
from .fields import DayField
from .record_forms import CorrectionFields
from .submissions import OnceForm


class NoteFields(forms.Form):
    text = forms.CharField(label="Note", max_length=500)
    noted_on = DayField(label="On", limit=DAY_PASSED)


class NoteForm(OnceForm, NoteFields):
    pass


class NoteCorrectionForm(NoteFields, CorrectionFields):
    done_on = DayField(label="Done on", limit=DAY_PASSED, required=False, help_text="Empty: it is still open.")

    field_order = ["text", "noted_on", "done_on", "reason"]
