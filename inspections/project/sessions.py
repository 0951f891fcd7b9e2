"""Who asks is told to the session; where nothing can be written, a page that only reads is shown all the same."""

from django.contrib.auth import logout
from django.contrib.sessions.exceptions import SessionInterrupted
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import Error as DatabaseError
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from fleet.access import LINK_OF_SESSION
from fleet.parsing.devices import device_words
from fleet.selectors.log_links import may_go_on

from ..storage_failures import storage_error_behind


class Sessions(SessionMiddleware):
    """What a page said once and could not strike off, such as *saved*, the next page says again."""

    def process_request(self, request):
        super().process_request(request)
        request.session.address = request.META.get("REMOTE_ADDR", "")
        request.session.device = device_words(request.headers.get("User-Agent", ""))

    def process_response(self, request, response):
        try:
            answer = super().process_response(request, response)
        except (DatabaseError, SessionInterrupted) as failure:
            if request.method not in ("GET", "HEAD") or storage_error_behind(failure) is None:
                raise
            patch_vary_headers(response, ("Cookie",))
            return response
        request.session.note_seen()
        return answer


class SessionsByLink:
    """Whoever was signed in by a link is signed out with the first request after it stopped working, whatever the
    reason: its day is over, it was withdrawn, its account may do more or nothing now.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        link = request.session.get(LINK_OF_SESSION)
        if link is not None and not may_go_on(link, request.user, timezone.localdate()):
            logout(request)
        return self.get_response(request)
