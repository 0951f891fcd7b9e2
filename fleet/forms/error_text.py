"""What forms say where Django's own sentences would not tell what to do; set once, when the app starts."""

from django import forms
from django.core.validators import MaxLengthValidator
from django.utils.translation import ngettext_lazy

REQUIRED = "Fill in this field."
NOT_OFFERED = "Choose one of the values that are offered."
_TOO_LONG = "Write at most %(limit_value)d character; this has %(show_value)d."
_TOO_LONG_MANY = "Write at most %(limit_value)d characters; this has %(show_value)d."


def use_plain_sentences():
    forms.Field.default_error_messages["required"] = REQUIRED
    for field in (forms.ChoiceField, forms.MultipleChoiceField, forms.ModelChoiceField, forms.ModelMultipleChoiceField):
        field.default_error_messages["invalid_choice"] = NOT_OFFERED
    MaxLengthValidator.message = ngettext_lazy(_TOO_LONG, _TOO_LONG_MANY, "limit_value")
