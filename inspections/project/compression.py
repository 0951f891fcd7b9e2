"""Pages leave compressed, but for those that show a secret: how long an answer is would tell of what stands in it.

Whoever can put words into a page and sees only its length may guess a secret in it, letter by letter. Django's own
middleware adds up to 100 bytes by chance and masks the token of forms anew in each page; a link for a phone is written
out once, so its page is not compressed at all.
"""

from django.middleware.gzip import GZipMiddleware

# photos and zips are compressed already
TEXT = ("text/", "application/json", "application/javascript", "image/svg+xml")


class Compression(GZipMiddleware):
    """As Django's, of text alone, and of no answer that says `shows_secret`."""

    def process_response(self, request, response):
        is_text = response.headers.get("Content-Type", "").startswith(TEXT)
        if not is_text or getattr(response, "shows_secret", False):
            return response
        return super().process_response(request, response)
