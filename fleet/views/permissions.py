"""Who may open a view: everybody signed in may read; logging and keeping need a role."""

from django.contrib.auth.decorators import permission_required

from ..access import MAY_KEEP, MAY_LOG

may_log = permission_required(MAY_LOG, raise_exception=True)
may_keep = permission_required(MAY_KEEP, raise_exception=True)
