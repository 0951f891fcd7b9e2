"""Photos of faults, for whoever asks for one."""

from django.core.files.storage import storages
from django.http import Http404
from django.shortcuts import get_object_or_404

from ..models import FaultPhoto
from ..models.photos import photo_file_name


def get_photo_or_404(pk):
    return get_object_or_404(FaultPhoto.objects.select_related("fault__mat__design", "recorded_by"), pk=pk)


def missing_pictures():
    """Hashes of the photos that faults name and of which there is no file."""
    named = FaultPhoto.objects.order_by("sha256").values_list("sha256", flat=True).distinct()
    return [sha256 for sha256 in named if not _is_there(sha256)]


def _is_there(sha256):
    try:
        return storages["photos"].exists(photo_file_name(sha256))
    except ValueError:
        return False


def picture_or_404(sha256):
    """What is in the file of a photo that some fault has; no other file is looked for."""
    picture = picture_of(sha256) if FaultPhoto.objects.filter(sha256=sha256).exists() else None
    if picture is None:
        raise Http404("No fault has this photo.")
    return picture


def picture_of(sha256):
    """What is in the file of that hash; None where there is none."""
    try:
        with storages["photos"].open(photo_file_name(sha256)) as picture:
            return picture.read()
    except (FileNotFoundError, ValueError):
        return None
