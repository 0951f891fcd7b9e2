"""The form by which files are sent over the web."""

from django import forms


class ManyFilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """One file or several; cleans to a list of them."""

    widget = ManyFilesInput(attrs={"accept": ".xlsx,.xlsm,.xls,.ods,.csv,.tsv,.txt,.zip"})

    def clean(self, data, initial=None):
        files = data if isinstance(data, (list, tuple)) else [data]
        return [super(ManyFilesField, self).clean(file, initial) for file in files or [None]]


class UploadForm(forms.Form):
    files = ManyFilesField(
        label="A spreadsheet of your own, or Halfpower's own files",
        allow_empty_file=True,
        help_text="Choose all files that belong together, or one zip of them.",
        error_messages={"required": "Choose at least one file.", "missing": "Choose at least one file."},
    )
