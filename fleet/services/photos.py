"""Photos of a fault: added, taken off, and their files cleared once nothing tells of them any more."""

from datetime import timedelta
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import transaction

from ..models import FaultPhoto
from ..models.photos import photo_file_name
from .locks import hold

MOST_OF_A_FAULT = 12
# A copy of the pool that is put back within that time finds the photos that were taken off after it was made.
KEPT_DAYS = 90


@transaction.atomic
def add_photos(fault, pictures, *, by):
    """`pictures` as `parsing.photos` makes them; one that the fault has already is left out.

    Each file is written before the row that names it: what stops half-way leaves a file too many, never a row without
    its file.
    """
    hold(fault.mat, fault)
    if fault.ended_on is not None:
        raise ValidationError("This fault is closed. Photos can be added to open faults only.")
    there = set(fault.photos.values_list("sha256", flat=True))
    new = {sha256(picture).hexdigest(): picture for picture in pictures}
    new = {name: picture for name, picture in new.items() if name not in there}
    if len(there) + len(new) > MOST_OF_A_FAULT:
        raise ValidationError(
            {"photos": f"A fault has at most {MOST_OF_A_FAULT} photos. This one has {len(there)}. Leave some out."}
        )
    return [_add_photo(fault, name, picture, by) for name, picture in new.items()]


def _add_photo(fault, name, picture, by):
    storages["photos"].save(photo_file_name(name), ContentFile(picture))
    photo = FaultPhoto(fault=fault, sha256=name, recorded_by=by)
    photo.full_clean()
    photo.save()
    return photo


@transaction.atomic
def take_photo_off(photo, *, by, reason, seen_version=None):
    """No page shows it any more, and nobody is served it; the trail says who took it off and why."""
    hold(photo.fault.mat, photo.fault, photo)
    photo.delete_with_trail(by=by, reason=reason, seen_version=seen_version)
    return photo


def forgotten_photos(names, now):
    """Of these hashes of files, those that no fault names, and no trail of a photo taken off lately.

    A database that tells of none of them is another pool's, or a new one in place of one that was lost: then none.
    """
    named = set(FaultPhoto.objects.values_list("sha256", flat=True))
    told = set(FaultPhoto.history.values_list("sha256", flat=True))
    lately = FaultPhoto.history.filter(history_date__gt=now - timedelta(days=KEPT_DAYS))
    if not (named | told) & set(names):
        return []
    return sorted(set(names) - named - set(lately.values_list("sha256", flat=True)))
