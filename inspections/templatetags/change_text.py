"""Changes in words: `{% load change_text %}{{ changes|changes_in_words }}`."""

from django import template

from .figures import counted, two_places

register = template.Library()


@register.filter
def changes_in_words(changes):
    """Of Changes: how many of the old cables were over the limit, and what the new ones brought."""
    return " ".join(filter(None, [_old(changes), _new(changes)]))


def _old(changes):
    of = f"Of {_which(changes)}" if changes.total > 1 else "The changed cable"
    read, over = len(changes.read), len(changes.over)
    if not read:
        return f"{counted(changes.total, 'cable')} changed, and none was measured before it came out."
    if changes.total == 1:
        return f"{of} was measured: {'over' if over else 'within'} {two_places(changes.limit_db)} dB."
    return (
        f"{of} {read} were measured before they came out: {over} over {two_places(changes.limit_db)} dB or without "
        f"signal, {read - over} still within."
    )


def _which(changes):
    shown = len(changes.rows)
    return (
        f"the newest {shown} of {changes.total} changed cables" if shown < changes.total else f"{shown} changed cables"
    )


def _new(changes):
    pairs = len(changes.pairs)
    if not pairs:
        return "No change has a reading of both cables, so what it brought is not known."
    brought = f"Where both were measured ({counted(pairs, 'change')}), the new cable lost"
    if changes.gained_db > 0:
        said = f"{brought} {two_places(changes.gained_db)} dB less in the middle of them."
    else:
        said = f"{brought} no less in the middle of them."
    worse = len(changes.no_better)
    return f"{said} {worse} new one{'s' if worse > 1 else ''} lost as much as the old, or more." if worse else said
