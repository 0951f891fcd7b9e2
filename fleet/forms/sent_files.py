"""Files in forms: one or several, as they were sent."""

from django import forms


class ManyFilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """One file or several, empty ones too; cleans to a list of them. `accept`: the kinds that a browser offers."""

    def __init__(self, *, accept, **kwargs):
        none = "Choose at least one file."
        super().__init__(
            allow_empty_file=True,
            error_messages={"required": none, "missing": none},
            widget=ManyFilesInput(attrs={"accept": accept}),
            **kwargs,
        )

    def clean(self, data, initial=None):
        files = data if isinstance(data, (list, tuple)) else [data]
        return [super(ManyFilesField, self).clean(file, initial) for file in files or [None]]
