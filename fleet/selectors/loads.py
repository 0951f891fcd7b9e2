"""Sets of files that were stored, and runs of *Start here*."""

from django.shortcuts import get_object_or_404

from ..models import Load


def recent_loads(most=10):
    """The newest loads with who stored them, newest first."""
    return Load.objects.select_related("loaded_by")[:most]


def get_load_or_404(pk):
    return get_object_or_404(Load.objects.select_related("loaded_by", "taken_back_by"), pk=pk)
