"""What the page of lives is asked: by what cables are grouped, and by what their use is counted."""

from django import forms

from ..numeric.words import Clock

GROUPED = [("length", "length"), ("design", "design of the mat"), ("depot", "depot")]


class LivesForm(forms.Form):
    """A wrong or missing choice is the first one: an address that somebody shortened still shows a page."""

    by = forms.ChoiceField(required=False, label="Cables by", choices=GROUPED)
    clock = forms.ChoiceField(required=False, label="Use counted in", choices=[(each, each) for each in Clock])

    def __init__(self, data, *, several_depots):
        super().__init__(data)
        if not several_depots:
            self.fields["by"].choices = GROUPED[:-1]
        self.chosen = {name: self._chosen(name) for name in self.fields}

    def _chosen(self, name):
        words = [word for word, _ in self.fields[name].choices]
        return self.data[name] if self.data.get(name) in words else words[0]
