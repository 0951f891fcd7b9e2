"""Photos on the sheet of a work order: those of the faults that were open when it was raised."""

from base64 import b64encode
from dataclasses import dataclass

from django.urls import reverse

from fleet.models import FaultPhoto
from fleet.selectors.photos import picture_of

# one row on paper
MOST_ON_A_SHEET = 4


@dataclass(frozen=True)
class SheetPhotos:
    """`shown`: {"source": …, "of": …} of each; `more`: how many have no room, and stand on the page of the mat."""

    shown: list
    more: int


def photos_still_there(sheets):
    """Hashes of photos of these sheets that nobody took off since, in one query; none where no sheet has any."""
    named = {photo["sha256"] for sheet in sheets for photo in sheet.get("photos", ())}
    return set(FaultPhoto.objects.filter(sha256__in=named).values_list("sha256", flat=True)) if named else set()


def photos_on(sheet, still_there, *, embedded=False):
    """`embedded`: the pictures stand in the page itself, which is a file that must stand alone."""
    source = _picture_itself if embedded else _address
    photos = [photo for photo in sheet.get("photos", ()) if photo["sha256"] in still_there]
    shown = [{"source": source(photo["sha256"]), "of": photo["of"]} for photo in photos[:MOST_ON_A_SHEET]]
    return SheetPhotos([photo for photo in shown if photo["source"]], len(photos) - len(shown))


def _address(sha256):
    return reverse("fleet:photo", args=[sha256])


def _picture_itself(sha256):
    """None where its file is gone."""
    picture = picture_of(sha256)
    return None if picture is None else f"data:image/jpeg;base64,{b64encode(picture).decode()}"
