"""Links for phones: which of them work, and how they are used."""

import hashlib

from django.db.models import Case, Count, Exists, OuterRef, When
from django.shortcuts import get_object_or_404
from django.utils import timezone

from ..access import LOG
from ..models import LogLink
from ..models.accounts import alive
from .people import people


def accounts_for_links():
    """Those that a link may stand for: in use, and allowed to log and no more."""
    return people().filter(is_active=True, role=LOG)


def working_links(on):
    """Those that sign somebody in on that day."""
    return LogLink.objects.open(on).filter(account__in=accounts_for_links()).select_related("account")


def links_known_to(person, on):
    """Working links of whose address somebody knows, because they made them."""
    return working_links(on).filter(made_by=person).order_by("name", "pk")


def find_working_link(secret, on):
    """The link of this secret that works on that day; None, whatever is wrong with it."""
    return working_links(on).of_secret(secret).first()


def may_go_on(link_pk, user, on):
    """Whether who was signed in by this link may stay so."""
    return working_links(on).filter(pk=link_pk, account=user.pk).exists()


def links_with_use(now):
    """All links, those that are open first: `is_open`, `may_log`, and how many `phones` are signed in by it now."""
    is_open = Case(When(withdrawn_at=None, ends_on__gte=timezone.localdate(now), then=True), default=False)
    return (
        LogLink.objects.select_related("account", "made_by", "withdrawn_by")
        .annotate(
            is_open=is_open,
            may_log=Exists(accounts_for_links().filter(pk=OuterRef("account"))),
            phones=Count("sessions", filter=alive(now, "sessions__")),
        )
        .order_by("-is_open", "-made_at", "-pk")
    )


def a_restore_withdrew_links(since):
    """Whether any was withdrawn by nobody since that moment, before its day was over."""
    in_a_restore = LogLink.objects.filter(withdrawn_by=None, withdrawn_at__gte=since)
    return in_a_restore.filter(ends_on__gte=timezone.localdate(since)).exists()


def get_link_or_404(pk, now):
    return get_object_or_404(links_with_use(now), pk=pk)


def link_mark(link):
    """Stands for what a keeper may change of a link, as it is now."""
    return hashlib.sha256(repr((link.pk, link.withdrawn_at)).encode()).hexdigest()[:16]
