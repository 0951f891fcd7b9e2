"""Forms of reporting, ending and correcting a fault."""

from django import forms

from ..choices import CABLE_PLACES, FaultPlace
from ..limits import DAY_PASSED
from ..models import Depot
from ..selectors.faults import ALL, CLOSED, OPEN
from .fields import DayField
from .photos import PhotosField
from .record_forms import CorrectionFields, StateFilter, VersionForm, reason_field
from .submissions import OnceForm

# what comes home most often first
PLACES = [
    (FaultPlace.WET, "it is wet"),
    (FaultPlace.CABLE, "a cable, I know which"),
    (FaultPlace.CONNECTOR, "a connector, I know which"),
    (FaultPlace.ONE_OF_CABLES, "one of the cables, not known which"),
    (FaultPlace.COVER, "cover or fold"),
    (FaultPlace.ELEMENT, "element or board"),
    (FaultPlace.WHOLE_MAT, "the whole mat"),
    (FaultPlace.NOT_KNOWN, "not known where"),
]


class FaultForm(forms.Form):
    place = forms.ChoiceField(label="What is damaged or wet", choices=PLACES, widget=forms.RadioSelect)
    position = forms.TypedChoiceField(
        label="Position",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="For a cable or connector. Number 1 is nearest the feed end.",
    )
    what = forms.CharField(label="What was seen", max_length=500, required=False)
    reported_on = DayField(label="Seen on", limit=DAY_PASSED)

    def __init__(self, *args, positions, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["position"].choices = [("", "none"), *((number, number) for number in positions)]


# a button each, what comes home most often first; a cable of which nobody says which is one of the cables
TAPS = [
    (FaultPlace.WET, "It is wet"),
    (FaultPlace.CABLE, "A cable"),
    (FaultPlace.CONNECTOR, "A connector"),
    (FaultPlace.COVER, "Cover or fold"),
    (FaultPlace.ELEMENT, "Element or board"),
    (FaultPlace.WHOLE_MAT, "The whole mat"),
    (FaultPlace.NOT_KNOWN, "Not known where"),
]


class FaultReportForm(OnceForm, FaultForm):
    """One tap on a place sends it; all else may be left as it is."""

    photos = PhotosField(label="Photos")
    taps = TAPS

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["place"].error_messages["required"] = "Say what is damaged or wet: press one of the buttons."
        self.fields["position"].choices[0] = ("", "not known")
        self.fields["position"].help_text += " Not known: leave it."

    def clean(self):
        """A cable or connector that nobody can name is one of the cables; its words then say that it is a connector."""
        values = super().clean()
        if values.get("place") in CABLE_PLACES and "position" in values and values["position"] is None:
            if values["place"] == FaultPlace.CONNECTOR:
                values["what"] = f"connector: {values['what']}" if values.get("what") else "connector"
            values["place"] = FaultPlace.ONE_OF_CABLES
        return values


class FaultEndForm(VersionForm):
    end_reason = forms.ChoiceField(label="How it was closed", widget=forms.RadioSelect)
    ended_on = DayField(label="On", limit=DAY_PASSED)
    reason = reason_field("Remark", required=False)

    def __init__(self, *args, ends, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["end_reason"].choices = [(end.value, end.value) for end in ends]


class FaultCorrectionForm(FaultForm, CorrectionFields):
    ended_on = DayField(
        label="Closed on", limit=DAY_PASSED, required=False, help_text="Empty, with no reason: it is still open."
    )
    end_reason = forms.ChoiceField(label="How it was closed", required=False)

    field_order = ["place", "position", "what", "reported_on", "ended_on", "end_reason", "reason"]

    def __init__(self, *args, ends, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["end_reason"].choices = [("", "still open"), *((end.value, end.value) for end in ends)]


class FaultFilter(StateFilter):
    state = forms.ChoiceField(required=False, choices=[("", OPEN), (CLOSED, CLOSED), (ALL, ALL)])
    depot = forms.ModelChoiceField(Depot.objects.none(), required=False, to_field_name="name", empty_label="all depots")

    def __init__(self, data, *, depots):
        super().__init__(data)
        if depots:
            self.fields["depot"].queryset = depots
        else:
            del self.fields["depot"]
