"""The story of a mat in one sentence: `{% load story_text %}{{ story|story_in_words }}`."""

from django import template

from fleet.parsing.approximate_dates import fitted_in_words

from .figures import counted

register = template.Library()
MOST_NAMED = 3


@register.filter
def story_in_words(story):
    """Of a StoryOfMat: how many cables came out since when, and of which positions the most."""
    since, out = story_since(story), story.came_out
    if not out:
        return f"No cable has come out since {since}."
    total = sum(out.values())
    return f"{counted(total, 'cable')} came out since {since}{_most(out) if total > 1 else _only(out)}."


@register.filter
def story_since(story):
    """The day with which it begins, a guess as a guess."""
    return fitted_in_words(story.first, story.first_basis)


def _only(out):
    return f", from position {min(out)}"


def _most(out):
    most = max(out.values())
    positions = [str(number) for number, cables in out.items() if cables == most]
    if most == 1:
        return ", never two from one position"
    if len(positions) > MOST_NAMED:
        return f", at most {most} from one position"
    if len(positions) == 1:
        return f": {most} from position {positions[0]}, more than from any other"
    *first, last = positions
    return f": {most} each from positions {', '.join(first)} and {last}, more than from any other"
