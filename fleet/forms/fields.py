"""Input fields that people with muddy hands can use: decimal commas, dates, lists of numbers."""

from django import forms


class DayInput(forms.DateInput):
    """The browser's own date picker; it wants and sends ISO dates."""

    input_type = "date"

    def __init__(self, **kwargs):
        super().__init__(format="%Y-%m-%d", **kwargs)


class DayField(forms.DateField):
    widget = DayInput

    def __init__(self, **kwargs):
        kwargs.setdefault("input_formats", ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y"])
        super().__init__(**kwargs)


class NumberField(forms.FloatField):
    """A number typed with a point or a comma; shown with a point, without the browser's spin buttons."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value):
        text = str(value).strip() if value is not None else ""
        return super().to_python(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)

    def prepare_value(self, value):
        return f"{value:.12g}" if isinstance(value, float) else value
