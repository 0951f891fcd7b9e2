"""Photos of faults: served to who is signed in, added, taken off."""

from functools import partial

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from ..access import MAY_KEEP, MAY_LOG
from ..forms.photos import PhotosForm
from ..forms.record_forms import ReasonForm
from ..selectors.faults import get_fault_or_404
from ..selectors.photos import get_photo_or_404, picture_or_404
from ..services.photos import KEPT_DAYS, add_photos, take_photo_off
from .next_page import next_page
from .pages import form_page, submit
from .permissions import may_log, require


@require_safe
def photo(request, sha256):
    """All are JPEG files that this app wrote itself, whatever came in."""
    shown_as = {"Content-Disposition": f'inline; filename="{sha256[:8]}.jpg"'}
    return HttpResponse(picture_or_404(sha256), content_type="image/jpeg", headers=shown_as)


@may_log
def fault_photos(request, pk):
    """The photos of a fault in full, and more of them as long as it is open."""
    fault = get_fault_or_404(pk)
    form = PhotosForm(*((request.POST, request.FILES) if request.method == "POST" else ()))
    address = submit(request, form, partial(_add, request, fault))
    if address:
        return redirect(address)
    context = {"fault": fault, "mat": fault.mat, "back": next_page(request, fault.mat)}
    return form_page(request, "fleet/fault_photos.html", form, **context)


def _add(request, fault, *, photos):
    added = len(add_photos(fault, photos, by=request.user))
    if added:
        messages.success(request, f"Added: {added} photo{'s' if added > 1 else ''} of {fault.mat}.")
    else:
        messages.info(request, "The fault has these photos already.")
    return next_page(request, fault.mat)


def photo_take_off(request, pk):
    """For whoever added it, and for a keeper."""
    photo = get_photo_or_404(pk)
    if photo.recorded_by != request.user or not request.user.has_perm(MAY_LOG):
        require(request.user, MAY_KEEP)
    form, mat = ReasonForm(request.POST or None), photo.fault.mat
    if submit(request, form, partial(take_photo_off, photo, by=request.user), row=photo) is not None:
        messages.success(request, "The photo is taken off.")
        return redirect(mat)
    context = {"photo": photo, "fault": photo.fault, "mat": mat, "kept_days": KEPT_DAYS}
    return form_page(request, "fleet/photo_take_off.html", form, **context)
