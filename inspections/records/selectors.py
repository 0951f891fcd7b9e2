"""Records of mats: one, all, those of a mat."""

from django.shortcuts import get_object_or_404

from ..models import MatRecord


def get_record_or_404(number):
    records = MatRecord.objects.select_related("mat", "recorded_by")
    return get_object_or_404(records, number=number)


def all_records():
    return MatRecord.objects.with_register()


def records_of_mat(mat):
    """Newest first, withdrawn ones too."""
    return list(MatRecord.objects.with_register().filter(mat=mat))


def last_record_of(mat, on):
    """The newest one in use; None without one."""
    return MatRecord.objects.in_use(on).filter(mat=mat).defer("content").first()
