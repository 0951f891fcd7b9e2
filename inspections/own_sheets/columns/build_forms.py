"""The form that asks how the mats of a build are made."""

from hashlib import sha256

from django import forms

from fleet.parsing.numbers import read_lengths, read_numbers


class BuildForm(forms.Form):
    """How the mats of one build are made, as far as somebody knows."""

    width_m = forms.CharField(label="Width in m", required=False, max_length=20)
    cables = forms.IntegerField(label="Cables in a mat", required=False, min_value=1, max_value=200)
    lengths_m = forms.CharField(label="Lengths, as 0.5 to 4 m", required=False, max_length=500)

    def __init__(self, data, asked, *, prefix, said=None):
        """`asked`: the AskedBuild; `said`: what was said of it before."""
        mark = sha256(asked.name.encode()).hexdigest()[:8]
        initial = {"width_m": asked.width_m, "cables": asked.cables} | (said or {})
        super().__init__(data, prefix=f"{prefix}-build-{mark}", initial=initial)
        self.asked = asked

    @property
    def was_shown(self):
        """Whether the page that was sent asked about this build."""
        return self.add_prefix("width_m") in self.data

    def clean_width_m(self):
        return self._checked("width_m", lambda text: len(read_numbers(text)) == 1, "Write one number, such as 4.5.")

    def clean_lengths_m(self):
        return self._checked("lengths_m", read_lengths, "Write numbers with blanks between, or 0.5 to 4.")

    def _checked(self, name, is_right, sentence):
        text = self.cleaned_data[name].strip()
        try:
            right = not text or is_right(text)
        except ValueError:
            right = False
        if not right:
            raise forms.ValidationError(sentence)
        return text

    @property
    def said(self):
        """What was said, as texts; nothing where nothing was."""
        return {name: str(value) for name, value in self.cleaned_data.items() if value not in (None, "")}
