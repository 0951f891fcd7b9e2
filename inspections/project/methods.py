"""Pages are asked for and forms are sent: there is no other way to ask, for anybody."""

from django.http import HttpResponseNotAllowed

ALLOWED = ("GET", "HEAD", "POST")


class UsualMethods:
    """Refuses every other method before a view could take it for one that only reads."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request) if request.method in ALLOWED else HttpResponseNotAllowed(ALLOWED)
