"""Forms of reporting, ending and correcting a fault."""

from django import forms

from ..choices import FaultPlace
from ..limits import DAY_PASSED
from .fields import DayField
from .record_forms import CorrectionFields, VersionForm, reason_field
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


class FaultReportForm(OnceForm, FaultForm):
    pass


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
