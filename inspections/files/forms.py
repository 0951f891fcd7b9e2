"""The form by which files are sent over the web."""

from django import forms

from fleet.forms.sent_files import ManyFilesField


class UploadForm(forms.Form):
    files = ManyFilesField(
        label="A spreadsheet of your own, or Halfpower's own files",
        accept=".xlsx,.xlsm,.xls,.ods,.csv,.tsv,.txt,.zip",
        help_text="Choose all files that belong together, or one zip of them.",
    )
