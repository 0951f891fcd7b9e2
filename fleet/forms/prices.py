"""Forms of the price list."""

from django import forms
from django.core.exceptions import ValidationError

from ..limits import CABLE_LENGTH, LEAD_TIME, PRICE
from ..models.prices import DIGITS, PLACES
from ..parsing.price_lines import MOST_LINES, NotAPrice, read_price_lines
from ..validators import SUPPLIER_NUMBER_LENGTH
from .fields import AmountField, CountField, NumberField
from .record_forms import CorrectionFields
from .submissions import OnceForm


class PriceValues(forms.Form):
    price = AmountField(
        label="Price",
        limit=PRICE,
        max_digits=DIGITS,
        decimal_places=PLACES,
        required=False,
        help_text="In the currency that you pay in, as 12.50. For a set: of all its cables together.",
    )
    lead_time_days = CountField(
        label="Lead time in days", limit=LEAD_TIME, required=False, help_text="From the order until it is here."
    )
    supplier_number = forms.CharField(
        label="Supplier’s number",
        max_length=SUPPLIER_NUMBER_LENGTH,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )


class CablePriceForm(OnceForm, PriceValues):
    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")
    length_m = NumberField(
        label="Length in m",
        limit=CABLE_LENGTH,
        required=False,
        help_text="Empty: for all lengths of the type, as a lead time mostly is.",
    )

    field_order = ["cable_type", "length_m", *PriceValues.base_fields]

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class PriceListField(forms.CharField):
    """One cable a line; gives the PriceLines."""

    widget = forms.Textarea(attrs={"rows": 12, "autocomplete": "off", "spellcheck": "false"})

    def clean(self, value):
        text = super().clean(value)
        try:
            lines = read_price_lines(text)
        except NotAPrice as unread:
            sentence = (
                f"Line {unread.number} is no length and price: “{unread.text[:60]}”. Write it as 0.40 12.50 A-040."
            )
            raise ValidationError(sentence, code="price_line") from None
        if not lines:
            raise ValidationError("No line has a price behind its length.", code="required")
        if len(lines) > MOST_LINES:
            raise ValidationError(f"{len(lines)} lines: send {MOST_LINES} at most, and then the next.")
        return lines


class PriceListForm(OnceForm):
    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")
    lines = PriceListField(
        label="Length, price, supplier’s number",
        help_text="One cable a line, as 0.40 12.50 A-040; or paste the three columns of a table. "
        "A length without a price is left out.",
    )

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class SetPriceForm(OnceForm, PriceValues):
    design = forms.ModelChoiceField(
        None, to_field_name="code", empty_label="choose", help_text="A set is one cable for each of its positions."
    )

    field_order = ["design", *PriceValues.base_fields]

    def __init__(self, *args, designs, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["design"].queryset = designs


class PriceCorrectionForm(PriceValues, CorrectionFields):
    field_order = [*PriceValues.base_fields, "reason"]
