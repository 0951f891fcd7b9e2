"""Pages in which a secret stands."""

from functools import wraps


def shows_secret(view):
    """Its answers are not compressed: the length of one that is would tell of the secret in it."""

    @wraps(view)
    def marked(request, *args, **kwargs):
        answer = view(request, *args, **kwargs)
        answer.shows_secret = True
        return answer

    return marked
