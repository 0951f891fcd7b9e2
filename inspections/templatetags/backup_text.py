"""Copies elsewhere and back-ups in sentences: {{ elsewhere|elsewhere_text:now }}  {{ elsewhere|is_wanting:now }}
{{ preview.since|since_text }}
"""

from django import template
from django.utils import timezone

from fleet.figures import short_day, short_time

from .figures import counted

register = template.Library()


@register.filter
def elsewhere_text(known, now):
    """Where daily copies go, and how the last try went."""
    if known.has_failed:
        return f"No copy could be put into {known.folder}, {_at(known.failed_at)}. {known.why} {_last(known)}"
    if known.has_stopped(now):
        return (
            f"The copy into {known.folder} that began {_at(known.tried_at)} never ended. Is its disk connected, and "
            f"does it answer? {_last(known)}"
        )
    if known.made_at:
        size_mb = known.size_bytes / 2**20
        return f"The last copy went into {known.folder}, {_at(known.made_at)}: {size_mb:,.1f} MB."
    if known.tried_at:
        return f"A copy is being put into {known.folder}. It began {_at(known.tried_at)}."
    return f"Daily copies go into {known.folder}. There is none there yet."


@register.filter
def is_wanting(known, now):
    """Whether somebody must look: the last try made no copy."""
    return known is not None and (known.has_failed or known.has_stopped(now))


@register.filter
def since_text(since):
    """What was done to the pool after the back-up was made, and what becomes of it."""
    done = [f"{counted(since.entered, 'record')} entered", f"{counted(since.corrected, 'correction')} made"]
    going = " and ".join(words for words, number in zip(done, (since.entered, since.corrected), strict=True) if number)
    said = f"Since the back-up: {going}. All that goes." if going else "Nothing was entered or corrected since then."
    if since.deleted:
        said += f" What was deleted since comes back: {counted(since.deleted, 'record')}."
    return said


def _last(known):
    return f"The last one there is of {short_day(known.made_on)}." if known.made_at else "There is none there yet."


def _at(moment):
    return short_time(timezone.localtime(moment))
