"""What a browser gone wrong sends, or somebody by hand: mended where nothing is lost by it, else refused in one line.

`management.serving` refuses before Django what Django could not even begin to read.
"""

import logging
import re
from functools import wraps

from django.http import Http404, QueryDict
from django.views import defaults

from fleet.validators import UNSEEN
from fleet.views.permissions import refused

NUL = "\x00"
# what Django already puts where the bytes sent are no text
STAND_IN = "\ufffd"
# the secret of a link for phones, or of somebody's calendar, in an address
SECRET = re.compile(r"((?<=/phone/)|(?<=/calendar/feed/))[^/\s]+")


class NulBytes:
    """The one character that no PostgreSQL text can hold never reaches a view.

    In an address nothing can stand under it. In what was typed it is replaced visibly, so that the rest is kept.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.GET = _without_nul(request.GET)
        request.COOKIES = {name: value for name, value in request.COOKIES.items() if NUL not in value}
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs):
        if NUL in request.path_info:
            raise Http404
        # not multipart: the page of files refuses by size before anything is read
        if request.content_type == "application/x-www-form-urlencoded":
            request.POST = _without_nul(request.POST)


def _without_nul(sent):
    if not any(NUL in name or any(NUL in value for value in values) for name, values in sent.lists()):
        return sent
    mended = sent.copy()
    mended.clear()
    for name, values in sent.lists():
        mended.setlist(name.replace(NUL, STAND_IN), [value.replace(NUL, STAND_IN) for value in values])
    mended._mutable = False
    return mended


def whatever_was_sent(page):
    """An error page reads the form to protect its own from forgery: one that cannot be read is none to it."""

    @wraps(page)
    def view(request, *args, **kwargs):
        try:
            request.POST  # noqa: B018 read on demand
        except Exception:  # whatever it was, it is being answered just now
            request.POST = QueryDict()
        return page(request, *args, **kwargs)

    return view


forbidden = whatever_was_sent(refused)
not_found = whatever_was_sent(defaults.page_not_found)


class OneLine(logging.Filter):
    """A refused request is one line of the log; where it came from is told of our own failures only.

    Nor does what was sent break a line, or write to the terminal; and no secret of a link is told.
    """

    def filter(self, record):
        if getattr(record, "status_code", 500) < 500:
            record.exc_info = None
        record.msg, record.args = SECRET.sub("…", UNSEEN.sub(STAND_IN, record.getMessage())), None
        return True
