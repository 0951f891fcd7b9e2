"""Which browser is to be signed out."""

from django import forms

from ..models.accounts import HASH_LENGTH

ALL = "all"


class EndSessionsForm(forms.Form):
    """One by its key in the database, or all. A key is never given twice, so it says by itself what its page showed."""

    session = forms.CharField(max_length=HASH_LENGTH)

    @property
    def only(self):
        asked = self.cleaned_data["session"]
        return None if asked == ALL else asked
