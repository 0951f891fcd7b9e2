"""A disk that is full, a folder that may not be written, a database that is busy or away: a sentence, not a failure."""

import logging
import sys

from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.views.defaults import bad_request, server_error

from ..backup.damage import is_known_damaged, note_damage
from ..storage_failures import DAMAGED, storage_error_behind, storage_error_of
from .resubmission import SentForm

log = logging.getLogger(__name__)


class StorageErrors:
    """Answers what went wrong inside a view, whose one transaction has then been taken back."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        if request.method == "POST" and is_known_damaged():
            return _page(request, DAMAGED, in_view=True)
        return self.get_response(request)

    def process_exception(self, request, failure):
        error = storage_error_of(failure)
        if error is None:
            return None
        if error is DAMAGED:
            note_damage()
        log.error("%s %s: %s", request.method, request.path, error.what, exc_info=failure)
        return _page(request, error, in_view=True)


def failure(request):
    """The page of every other failure; one of the storage outside a view may have come after the act was kept."""
    error = storage_error_of(sys.exc_info()[1])
    return _page(request, error, in_view=False) if error else server_error(request)


def not_understood(request, exception):
    """The page of a broken request. Sessions call it so, too, when the storage does not take them."""
    error = storage_error_behind(exception)
    return _page(request, error, in_view=False) if error else bad_request(request, exception)


def _page(request, error, in_view):
    """Rendered without the request: who is signed in stands in the very storage that failed."""
    context = {"error": error, "in_view": in_view, "wrote": request.method == "POST"}
    context |= {"sent": SentForm.of(request), "token": get_token(request)}
    return HttpResponse(render_to_string("storage_error.html", context), status=error.status)
