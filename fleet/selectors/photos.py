"""Photos of faults, for whoever asks for one."""

from django.core.files.storage import storages
from django.http import Http404
from django.shortcuts import get_object_or_404

from ..models import FaultPhoto


def get_photo_or_404(pk):
    return get_object_or_404(FaultPhoto.objects.select_related("fault__mat__design", "recorded_by"), pk=pk)


def open_picture_or_404(sha256):
    """The file of a photo that some fault has, open to be read; no other file is looked for."""
    photo = FaultPhoto.objects.filter(sha256=sha256).first()
    try:
        if photo:
            return storages["photos"].open(photo.file_name)
    except (FileNotFoundError, ValueError):
        pass
    raise Http404("No fault has this photo.")
