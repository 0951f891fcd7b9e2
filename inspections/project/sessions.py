"""Who asks is told to the session; where nothing can be written, a page that only reads is shown all the same."""

from django.contrib.sessions.exceptions import SessionInterrupted
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import Error as DatabaseError
from django.utils.cache import patch_vary_headers

from fleet.parsing.devices import device_words

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
