"""Forms of reference pieces, of what is agreed of them, and of their readings."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import DayField, NumberField
from fleet.forms.record_forms import CorrectionFields, VersionForm, code_field, reason_field
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED

from ...limits import READING_LOSS, UNCERTAINTY
from ...templatetags.figures import counted, short_day
from ...validators import parse_loss
from .selectors import depots_to_choose, instruments_to_choose

NO_NUMBER = "Write the number of dB that the instrument shows."
AS_YOU_LIKE = "From its certificate, or of your own repeats."


class ShownLossField(NumberField):
    """A number of dB, typed as at the bench: `1,42`, `1.42 dB`, `-1.42`."""

    def __init__(self, **kwargs):
        super().__init__(limit=READING_LOSS, **kwargs)

    def to_python(self, value):
        if value in self.empty_values or not str(value).strip():
            return None
        loss_db = parse_loss(str(value)).loss_db
        if loss_db is None:
            raise ValidationError(NO_NUMBER, code="loss")
        return loss_db


class NameFields(forms.Form):
    name = code_field("Reference piece")
    depot = forms.ModelChoiceField(
        label="Depot", queryset=None, required=False, empty_label="of no one depot", help_text="Where its bench stands."
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["depot"].queryset = depots_to_choose()


class ValueFields(forms.Form):
    agreed_loss_db = ShownLossField(
        label="Agreed loss in dB", required=False, help_text="Leave both empty while it is not agreed yet."
    )
    uncertainty_db = NumberField(
        label="Standard uncertainty in dB", limit=UNCERTAINTY, required=False, help_text=AS_YOU_LIKE
    )
    agreed_on = DayField(label="Good from which day", limit=DAY_PASSED)
    basis = reason_field("From what it was agreed", required=False)


class PieceForm(NameFields, ValueFields):
    pass


class PieceCorrectionForm(NameFields, CorrectionFields):
    field_order = ["name", "depot", "reason"]


class AgreeForm(ValueFields, VersionForm):
    """A new value, proposed (a ProposedValue) where there are readings enough since the last one."""

    def __init__(self, *args, proposed=None, since=None, **kwargs):
        super().__init__(*args, **kwargs)
        for name in ("agreed_loss_db", "uncertainty_db"):
            self.fields[name].required = True
            self.fields[name].help_text = "" if proposed else AS_YOU_LIKE
        if proposed:
            self.initial |= {
                "agreed_loss_db": round(proposed.loss_db, 3),
                "uncertainty_db": max(round(proposed.uncertainty_db, 3), 0.001),
                "basis": in_words(proposed, since),
            }


class ValueCorrectionForm(ValueFields, CorrectionFields):
    field_order = ["agreed_loss_db", "uncertainty_db", "agreed_on", "basis", "reason"]


class ReadingFields(forms.Form):
    loss_db = ShownLossField(label="Loss in dB")
    measured_on = DayField(label="Read on", limit=DAY_PASSED)
    instrument = forms.ModelChoiceField(label="Instrument", queryset=None, required=False, empty_label="not recorded")

    def __init__(self, *args, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument"].queryset = instruments_to_choose(on)


class PieceReadingForm(OnceForm, ReadingFields):
    @classmethod
    def several(cls, pks, *, initial, on):
        """One for each of these pieces on one page; the instruments are asked for once."""
        forms_made = [cls(initial=initial, on=on, auto_id=f"piece-{pk}-%s") for pk in pks]
        choices = list(forms_made[0].fields["instrument"].choices) if forms_made else []
        for form in forms_made:
            form.fields["instrument"].choices = choices
        return forms_made


class PieceReadingCorrectionForm(ReadingFields, CorrectionFields):
    field_order = ["loss_db", "measured_on", "instrument", "reason"]

    def __init__(self, *args, on, kept=None, **kwargs):
        """`kept`: the instrument of the reading, which may be withdrawn by now."""
        super().__init__(*args, on=on, **kwargs)
        if kept is not None:
            self.fields["instrument"].queryset |= type(kept).objects.filter(pk=kept.pk)


def in_words(proposed, since):
    """From what a value is proposed."""
    of = f"mean of {counted(proposed.readings, 'reading')} on {counted(proposed.days, 'day')}"
    return f"{of} since {short_day(since)}" if since else of
