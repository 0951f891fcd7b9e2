"""Forms that a phone kept and sends by script: each for one pool and one account, and answered in a word."""

from django.contrib.messages import ERROR, get_messages
from django.http import JsonResponse

from fleet.selectors.pool import pool_uid

# what a script of ours sends with each of its requests; no page elsewhere can
HEADER = "X-Halfpower-Queue"
# what a form of that address is about
ABOUT = {"event-answer": "The event", "event-home": "The event", "fault-photos": "The fault"}


class QueuedForms:
    """Answers what a script understands: 401 signed out, 409 another pool or account, and where a stored form leads.

    Who is signed in and asks for what the role does not allow is refused, 403, with whom this is said to.

    The last stands in place of a redirect, which a script cannot read and whose page would use up what it says once.
    A button that leads back with the reason why it did nothing is refused, 422, with that reason; so is a form about
    something that is no longer there. All other answers are those that the form itself would get.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        kept_for = request.headers.get(HEADER)
        if kept_for is None:
            return self.get_response(request)
        if not request.user.is_authenticated:
            return JsonResponse({"refused": "signed out"}, status=401)
        if request.method != "POST":
            answer = self.get_response(request)
            return _may_not(request) if answer.status_code == 403 else answer
        if kept_for != f"{pool_uid()} {request.user.pk}":
            return JsonResponse({"refused": "kept for another"}, status=409)
        answer = self.get_response(request)
        if answer.status_code == 404:
            return _no_longer_there(request)
        return _in_a_word(request, answer["Location"]) if answer.status_code == 302 else answer


def _may_not(request):
    whom = {"pool": pool_uid(), "account": str(request.user.pk)}
    return JsonResponse({"refused": "not in this role", **whom}, status=403)


def _no_longer_there(request):
    about = ABOUT.get(request.resolver_match.url_name if request.resolver_match else None, "What this is about")
    says = [f"{about} was deleted meanwhile, so nothing was stored.", "If it happened all the same, log it anew."]
    return JsonResponse({"says": says}, status=422)


def _in_a_word(request, leads_to):
    said = get_messages(request)
    errors = [str(message) for message in said if message.level >= ERROR]
    # what is not said now is said by the page that somebody opens
    said.used = bool(errors)
    return JsonResponse({"says": errors}, status=422) if errors else JsonResponse({"stored": leads_to})
