"""The one character that no PostgreSQL text can hold, NUL, never reaches a view."""

from django.http import Http404

NUL = "\x00"
# what Django already puts where the bytes sent are no text
STAND_IN = "\ufffd"


class NulBytes:
    """In an address nothing can stand under it. In what was typed it is replaced visibly, so that the rest is kept."""

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
