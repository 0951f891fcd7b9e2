"""What an act would move is weighed between two turns of its view, while nobody waits for what the act holds.

`inspections/project/again.py` runs the view again, so that each turn looks afresh.
"""

from dataclasses import dataclass, field

from ..services.confirmation import WantsConfirmation, weighing_apart

# so often it is weighed anew because the pool changed meanwhile; then it is weighed while others wait
TURNS = 3


@dataclass
class Weighed:
    """`seals`: by which the act goes on; `asked`: what is to be asked instead."""

    turns: int = 0
    seals: list[str] = field(default_factory=list)
    asked: WantsConfirmation | None = None


def weigh(request, first):
    """Work out what an act of this request was taken back for, a WeighFirst."""
    weighed = _weighed(request)
    weighed.turns += 1
    try:
        weighed.seals.append(first.weigh(confirmed_of(request)))
    except WantsConfirmation as asked:
        weighed.asked = asked


def confirmed_of(request):
    """The fingerprints of all that was ticked, and of what was weighed for this request."""
    return " ".join([*request.POST.getlist("confirmed"), *_weighed(request).seals])


def act_weighed(request, act):
    """What `act()` returns; raises what was found to ask about it."""
    weighed = _weighed(request)
    if weighed.asked:
        raise weighed.asked
    with weighing_apart(weighed.turns < TURNS):
        return act()


def _weighed(request):
    if not hasattr(request, "weighed"):
        request.weighed = Weighed()
    return request.weighed
