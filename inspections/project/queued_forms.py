"""Forms that a phone kept and sends by script: each for one pool and one account, and answered in a word."""

from django.http import JsonResponse

from fleet.selectors.pool import pool_uid

# what a script of ours sends with each of its requests; no page elsewhere can
HEADER = "X-Halfpower-Queue"


class QueuedForms:
    """Answers what a script understands: 401 signed out, 409 another pool or account, and where a stored form leads.

    The last stands in place of a redirect, which a script cannot read and whose page would use up what it says once.
    All other answers are those that the form itself would get.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        kept_for = request.headers.get(HEADER)
        if kept_for is None:
            return self.get_response(request)
        if not request.user.is_authenticated:
            return _said("signed out", 401)
        if request.method != "POST":
            return self.get_response(request)
        if kept_for != f"{pool_uid()} {request.user.pk}":
            return _said("kept for another", 409)
        answer = self.get_response(request)
        return JsonResponse({"stored": answer["Location"]}) if answer.status_code == 302 else answer


def _said(word, status):
    return JsonResponse({"refused": word}, status=status)
