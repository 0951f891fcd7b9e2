"""Who may open a view: everybody signed in may read; for all else `fleet.access` says which role may."""

from functools import wraps

from django.core.exceptions import PermissionDenied
from django.shortcuts import render

from ..access import ACTS, MAY_BENCH, MAY_KEEP, MAY_LOG, roles_within, signed_in_by_link, who_may


def require(user, permission):
    """Refuse with a sentence that names who may, unless this user has the permission."""
    if not user.has_perm(permission):
        raise PermissionDenied(f"This is for {who_may(permission)}.")


def refused(request, exception):
    """The page of a refusal: whom this is for, what the person may do, and whom to ask."""
    roles = roles_within(request.user)
    context = {"whom_for": str(exception), "role": roles[-1], "acts": [ACTS[role] for role in roles]}
    return render(request, "403.html", context, status=403)


def _guarded_by(permission):
    def guard(view):
        @wraps(view)
        def guarded(request, *args, **kwargs):
            require(request.user, permission)
            return view(request, *args, **kwargs)

        return guarded

    return guard


def not_by_link(view):
    """For what concerns an account as a whole, its password and its other sessions."""

    @wraps(view)
    def guarded(request, *args, **kwargs):
        if signed_in_by_link(request):
            raise PermissionDenied("This is not for a phone that was signed in by a link.")
        return view(request, *args, **kwargs)

    return guarded


may_log = _guarded_by(MAY_LOG)
may_bench = _guarded_by(MAY_BENCH)
may_keep = _guarded_by(MAY_KEEP)
