"""What a phone asks for to keep the log page, and to send later what was typed on it."""

import hashlib
import json
import re
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from ..access import MAY_KEEP
from ..forms.mat_picker import MatPicker
from ..parsing.mat_lists import read_mat_list
from ..selectors.pool import pool_uid
from ..selectors.queue import kept_events
from ..selectors.usage import mats_to_choose
from .permissions import may_log

WORKER = "js/queue_worker.js"
FILES = re.compile(r'(?:src|href)="(/static/[^"]+)"')


@may_log
def queue_ready(request):
    """Whether this phone may send now, as whom and to which pool, and a fresh token to send with.

    With `keep` also what a phone keeps to log without signal, which takes longer.
    """
    said = {"pool": pool_uid(), "account": str(request.user.pk), "token": get_token(request)}
    return JsonResponse(said | (_kept(request.user) if "keep" in request.GET else {}))


def _kept(user):
    now, plans = timezone.now(), user.has_perm(MAY_KEEP)
    on = timezone.localdate(now)
    kept = {"now_ms": int(now.timestamp() * 1000), "plans": plans}
    return kept | {"depots": _depots(on), "events": kept_events(on, plans=plans)}


def _depots(on):
    """The tiles of the picker, as plain values."""
    mats = mats_to_choose()
    picker = MatPicker(mats, read_mat_list("", mats, on), day=on, last_day=on, on=on)
    return [
        {
            "depot": str(depot.depot or ""),
            "prefix": depot.prefix,
            "width": depot.width,
            "mats": [_said(tile) for tile in depot.tiles],
        }
        for depot in picker.by_depot
    ]


def _said(tile):
    """A mat: its number, that of its tile, why it should not go, and what is in doubt where it may."""
    return [tile.mat.number, tile.number, str(tile.mat.unfit), str(tile.mat.doubt)]


@may_log
def queue_shell(request):
    """The log page as it opens without signal. Rendered without the request: it is kept, so it names nobody."""
    return HttpResponse(_shell())


@may_log
def queue_worker(request):
    """The service worker: what it keeps, named by a hash of it all, before what it does."""
    shell, does = _shell(), Path(finders.find(WORKER)).read_text("utf-8")
    files = sorted(set(FILES.findall(shell)))
    name = hashlib.sha256("\n".join([shell, *files, does]).encode()).hexdigest()[:12]
    kept = {"name": f"halfpower-log-{name}", "shell": reverse("fleet:queue-shell"), "files": files}
    answer = HttpResponse(f"const KEPT = {json.dumps(kept)};\n{does}", content_type="text/javascript")
    answer["Cache-Control"] = "no-cache, no-store"
    return answer


def _shell():
    return render_to_string("fleet/queue_shell.html")
