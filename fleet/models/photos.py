"""Photos of what is wrong with a mat."""

import re

from django.core.validators import RegexValidator
from django.db import models
from django.urls import reverse

from .fields import LineField
from .mats import Fault
from .trail import Recorded


class FaultPhoto(Recorded):
    """One photo of a fault; the picture itself is a file beside the database, under the hash of its content."""

    fault = models.ForeignKey(Fault, models.PROTECT, related_name="photos")
    sha256 = LineField(max_length=64, db_index=True, validators=[RegexValidator(r"\A[0-9a-f]{64}\Z")])

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["fault", "sha256"], name="a_photo_once_at_a_fault")]

    @property
    def url(self):
        return reverse("fleet:photo", args=[self.sha256])

    def __str__(self):
        return f"Photo of {self.fault}"


def photo_file_name(sha256):
    """Where the picture lies among the photos; ValueError for what is no hash, whoever wrote it into the database."""
    if not re.fullmatch("[0-9a-f]{64}", sha256):
        raise ValueError("no name of a photo")
    return f"{sha256[:2]}/{sha256}.jpg"
