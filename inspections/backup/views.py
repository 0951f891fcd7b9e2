"""Back-ups: download one, send one, the copies that lie here, and the folder for daily copies elsewhere."""

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_POST

from fleet.views.pages import submit
from fleet.views.permissions import may_keep

from ..received_views import received, refusing_on
from ..tables import folded
from .daily import back_up_now
from .elsewhere import elsewhere, forget_folder, name_folder, try_again
from .forms import FolderForm, SendBackupForm
from .newest import newest_backup
from .restorable import BackupTooLarge, copies_here, keep_sent
from .sending import open_new_backup
from .tables import CopyTable

MOST_SHOWN = 8
TOO_MANY = "These are many files. Send one back-up."
NOT_WHOLE = "The back-up did not arrive complete. Send it again."
BEING_MADE = "The copy is being made now. Look here again in a minute."
SWITCHED_OFF = "Daily copies are switched off on this computer: HALFPOWER_DAILY_COPY says no. None is made there."


@may_keep
@require_GET
def copies_page(request):
    return _page(request)


def _page(request, *, status=200, **forms):
    known, now = elsewhere(), timezone.localtime()
    context = {
        "send_form": SendBackupForm(),
        "folder_form": FolderForm(initial={"folder": known.folder if known else ""}),
        "copies": folded(CopyTable, copies_here(), MOST_SHOWN),
        "elsewhere": known,
        "backup": newest_backup(now.date()),
        "limit_mb": settings.UPLOAD_LIMIT_BYTES / 2**20,
        "daily": settings.DAILY_BACKUP,
        "now": now,
        "on": now.date(),
    }
    return render(request, "inspections/backup/copies.html", context | forms, status=status)


@may_keep
@require_POST
def download(request):
    now = timezone.localtime()
    try:
        backup, notices = open_new_backup(now)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("inspections:copies")
    for notice in notices:
        messages.warning(request, notice)
    return FileResponse(backup, as_attachment=True, filename=f"pool-{now:%Y-%m-%d-%H%M}.zip")


@csrf_exempt
@may_keep
@require_POST
def send(request):
    refuse = refusing_on(request, "inspections:copies", "inspections/backup/too_large.html")
    return received(request, _take, refuse, too_many=TOO_MANY, not_whole=NOT_WHOLE, too_large=BackupTooLarge)


def _take(request):
    form = SendBackupForm(request.POST, request.FILES)
    sha256 = submit(request, form, lambda file: keep_sent(file))
    if sha256 is None:
        return _page(request, send_form=form, status=422)
    return redirect("inspections:copy-restore", sha256)


@may_keep
@require_POST
def elsewhere_name(request):
    form = FolderForm(request.POST)
    folder = submit(request, form, lambda folder: name_folder(folder))
    if folder is None:
        return _page(request, folder_form=form, status=422)
    messages.success(request, f"Daily copies go into {folder}.")
    return _begin(request)


@may_keep
@require_POST
def elsewhere_now(request):
    try_again()
    return _begin(request)


def _begin(request):
    if back_up_now():
        messages.info(request, BEING_MADE)
    else:
        messages.warning(request, SWITCHED_OFF)
    return redirect("inspections:copies")


@may_keep
@require_POST
def elsewhere_stop(request):
    forget_folder()
    messages.success(request, "No more copies are put elsewhere. Those that lie there stay.")
    return redirect("inspections:copies")
