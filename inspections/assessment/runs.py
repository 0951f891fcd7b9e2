"""Assess a large pool beside the request that asked for it, and say how far it is."""

import logging
from threading import Thread

from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone

from ..choices import Stage
from ..models import Assessment, AssessmentRun
from .services import assess_pool, invalidate

log = logging.getLogger(__name__)


def pool_is_large():
    """Too many segments to let a person wait without a sign of progress."""
    return Assessment.objects.count() > settings.ASSESS_AT_ONCE


def start_run(*, by, on):
    """Start once the caller's transaction is committed; until it is done no assessment counts as up to date."""
    invalidate()
    run = AssessmentRun.objects.create(started_by=by, assessed_on=on, segments=Assessment.objects.count())
    transaction.on_commit(lambda: Thread(target=_in_thread, args=[run.pk], daemon=True).start())
    return run


def work_through(run_id):
    """Assess the pool for this run. A failure is kept for the page and leaves the older assessments as they were."""
    run = AssessmentRun.objects.get(pk=run_id)

    def notify(stage, **values):
        AssessmentRun.objects.filter(pk=run_id).update(stage=stage, **values)

    try:
        assessed = assess_pool(run.assessed_on, notify)
    except Exception as failure:
        log.exception("Assessing the pool failed")
        said = f"{type(failure).__name__}: {failure}"[:500]
        notify(Stage.FAILED, finished_at=timezone.now(), failure_reason=said)
    else:
        notify(Stage.DONE, finished_at=timezone.now(), segments=assessed)


def _in_thread(run_id):
    try:
        work_through(run_id)
    finally:
        connection.close()
