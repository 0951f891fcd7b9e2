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
from ..selectors.pool import pool_uid
from ..selectors.queue import kept_to_log_with
from .permissions import may_log

WORKER = "js/queue_worker.js"
FILES = re.compile(r'(?:src|href)="(/static/[^"]+)"')


@may_log
def queue_ready(request):
    """Whether this phone may send now, as whom and to which pool; a fresh token to send with; what to log with."""
    now, plans = timezone.now(), request.user.has_perm(MAY_KEEP)
    return JsonResponse(
        {
            "pool": pool_uid(),
            "account": str(request.user.pk),
            "token": get_token(request),
            "now_ms": int(now.timestamp() * 1000),
            "plans": plans,
            **kept_to_log_with(timezone.localdate(now), plans=plans),
        }
    )


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
