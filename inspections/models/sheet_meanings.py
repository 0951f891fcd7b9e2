"""What was said of a keeper's own sheets, kept for the next file of the same shape."""

from django.db import models

from fleet.models.fields import LineField
from fleet.models.trail import Recorded

SHEET_NAME_LENGTH = 120


class KeptMeaning(Recorded):
    """What sheets of one shape mean: the same headings in the same order (`own_sheets/columns/kept_shapes.py`).

    `said` is what `what_is_kept` made of it; the keeper says it anew on the page of a file, which corrects it.
    """

    shape = models.CharField(max_length=64, unique=True, editable=False)
    # the sheet of which it was said first
    sheet = LineField(max_length=SHEET_NAME_LENGTH, editable=False)
    said = models.JSONField()

    class Meta:
        ordering = ["-recorded_at", "-pk"]

    def __str__(self):
        return f"What the columns of {self.sheet} mean"
