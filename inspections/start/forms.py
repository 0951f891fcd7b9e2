"""What the first mats are asked beside the four questions: the band, and whether there is a bench."""

from django import forms

from fleet.forms.start_page import StartForm

# (word, reference frequency in MHz: the middle of the band, where the band lies within what can be compared)
BANDS = {
    "other": ("another, or not known", None),
    "865": ("865 to 868 MHz", 866.5),
    "902": ("902 to 928 MHz", 915.0),
    "915": ("915 to 921 MHz", 918.0),
}


class FirstStartForm(StartForm):
    band = forms.ChoiceField(label="Frequency band", choices=[(key, word) for key, (word, _) in BANDS.items()])
    has_bench = forms.BooleanField(required=False, label="We can measure the loss of a cable")

    @property
    def act_values(self):
        return super().act_values | {"policy": self.policy}

    @property
    def policy(self):
        """Settings that follow: {name: value}; what has its default is left out."""
        reference_mhz = BANDS[self.cleaned_data["band"]][1]
        found = {} if reference_mhz is None else {"reference_mhz": reference_mhz}
        return found if self.cleaned_data["has_bench"] else found | {"has_bench": 0}
