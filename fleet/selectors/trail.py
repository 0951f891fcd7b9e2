"""What rows said before they were corrected: who changed what, when and why."""

from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain, groupby, pairwise
from operator import attrgetter

from django.db.models import ForeignKey

from ..access import name_of
from ..figures import short_day
from ..parsing.approximate_dates import fitted_in_words

KEPT_QUIET = {"id", "version", "recorded_at", "recorded_by", "load", "changed_alone", "judged"}
# days that may be guesses, each with the field that says how well it is known
ROUGH_DAYS = {"fitted_on": "fitted_basis", "acquired_on": "acquired_basis"}


@dataclass(frozen=True)
class Change:
    """One field; `old` and `new` are words to show, None where it was or became empty."""

    field: str
    old: str | None
    new: str | None


@dataclass(frozen=True)
class Entry:
    """One correction, or the first entry of a row that was corrected later."""

    when: datetime
    who: str
    what: str
    changes: tuple[Change, ...] = ()
    reason: str = ""


def trail_of(row):
    """The corrections of a row, newest first, then its first entry. A row that was never corrected has none."""
    return trail_of_rows([row], name=lambda row: "corrected")


def trail_of_rows(rows, name=str):
    """The corrections of many rows of one model in one list; `name` gives the words that say which row it was.

    One query for the history and one for each kind of row pointed to, however many rows there are.
    """
    rows = {row.pk: row for row in rows}
    if not rows:
        return []
    model = type(next(iter(rows.values())))
    states = model.history.filter(id__in=rows).select_related("history_user").order_by("id", "history_id")
    by_row = [list(states_of_one) for _, states_of_one in groupby(states, key=attrgetter("id"))]
    shown = _Shown(model, [pair for states_of_one in by_row for pair in pairwise(states_of_one)])
    entries = [_entries(states_of_one, shown, name(rows[states_of_one[0].id])) for states_of_one in by_row]
    return newest_first(*entries)


def changed_since(row, version):
    """What changed since that version of the row, as one Entry of the last who changed it; None where none is known."""
    states = list(row.history.select_related("history_user").order_by("history_id"))
    seen = next((state for state in reversed(states) if state.version == version), None)
    if seen is None or seen is states[-1]:
        return None
    changes = _Shown(type(row), [(seen, states[-1])]).changes(seen, states[-1])
    return Entry(states[-1].history_date, _who(states[-1]), "changed", changes)


def newest_first(*parts):
    """Entries of several rows, or kinds of rows, in one list."""
    return sorted(chain.from_iterable(parts), key=attrgetter("when"), reverse=True)


def deleted_rows(model, name, **of):
    """Rows of a model that were deleted; `name` gives the words that say which row it was."""
    return deleted_states(model.history.filter(**of), name)


def deleted_states(states, name):
    """As `deleted_rows`, of states that come with what the name reads of other rows."""
    states = states.filter(history_type="-").select_related("history_user")
    return [
        Entry(state.history_date, _who(state), name(state), (), state.history_change_reason or "") for state in states
    ]


def _entries(states, shown, what):
    first = Entry(states[0].history_date, _who(states[0]), "entered" if what == "corrected" else f"{what}: entered")
    corrected = [
        Entry(new.history_date, _who(new), what, shown.changes(old, new), new.history_change_reason or "")
        for old, new in pairwise(states)
    ]
    return [first, *corrected]


def _who(state):
    return name_of(state.history_user)


class _Shown:
    """Turns stored values into words; rows that were or are pointed to are read once for all pairs (old, new)."""

    def __init__(self, model, pairs):
        self.fields = [field for field in model.history.model.tracked_fields if field.name not in KEPT_QUIET]
        self.pointed_to = {}
        for field in self.fields:
            ids = _ids_that_changed(field, pairs) if isinstance(field, ForeignKey) else set()
            if ids:
                self.pointed_to[field.name] = field.remote_field.model._base_manager.in_bulk(ids)

    def changes(self, old, new):
        changed = [field for field in self.fields if getattr(old, field.attname) != getattr(new, field.attname)]
        return tuple(
            Change(str(field.verbose_name), self._words(field, old), self._words(field, new)) for field in changed
        )

    def _words(self, field, state):
        value = getattr(state, field.attname)
        if value is None or value == "" or value == []:
            return None
        if field.name in ROUGH_DAYS:
            return fitted_in_words(value, getattr(state, ROUGH_DAYS[field.name]))
        if field.name in self.pointed_to:
            return str(self.pointed_to[field.name].get(value, value))
        return _plain_words(value)


def _ids_that_changed(field, pairs):
    keys = [(getattr(old, field.attname), getattr(new, field.attname)) for old, new in pairs]
    return {key for old, new in keys if old != new for key in (old, new)} - {None}


def _plain_words(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, date):
        return short_day(value)
    if isinstance(value, list):
        return " ".join(_plain_words(part) for part in value)
    return str(value)
