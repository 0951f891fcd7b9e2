"""What a sample changed on the due list: the status of its cables at the draw, and at the end or now."""

from dataclasses import dataclass

from fleet.models import Mat

from ..models import Assessment
from ..numeric.words import DUE

DUE_WORDS = [status.value for status in DUE]


@dataclass(frozen=True)
class CableChanged:
    """A cable that was read: `was` and `now` as `SampledMat.cables` keeps them."""

    mat: Mat
    was: dict
    now: dict

    @property
    def is_due_now(self):
        return self.now["status"] in DUE_WORDS


def due_changes(found):
    """Of the cables that the sample read: those due now and not at the draw, then those due at the draw and not now.

    A cable that is in its mat no longer is left out: what it would be now is not known.
    """
    changed = [
        CableChanged(mat.sampled.mat, cable.known, now)
        for mat, states in _states(found)
        for cable in mat.read
        if (now := states.get(cable.known["segment"])) and _is_due(now) != _is_due(cable.known)
    ]
    return sorted(changed, key=lambda row: not row.is_due_now)


def _is_due(known):
    return known["status"] in DUE_WORDS


def _states(found):
    """(MatFound, {segment's key: what is known of it at the end, or now}) of each mat."""
    running = [mat for mat in found.mats if mat.sampled.cables_after is None]
    rows = Assessment.objects.filter(mat__in=[mat.sampled.mat_id for mat in running]) if running else []
    now = {}
    for row in rows:
        due_on = row.due_on.isoformat() if row.due_on else None
        kept = {"status": row.status.value, "cause": row.cause, "due_on": due_on}
        now.setdefault(row.mat_id, {})[row.segment_id] = kept
    for mat in found.mats:
        after = mat.sampled.cables_after
        if after is None:
            yield mat, now.get(mat.sampled.mat_id, {})
        else:
            yield mat, {known["segment"]: known for known in after}
