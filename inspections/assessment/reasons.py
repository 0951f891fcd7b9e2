"""Why a segment is due, as data: one `Reason` a cause. Templates turn them into words (templatetags/reason_text.py)."""

from dataclasses import asdict, dataclass, replace
from datetime import date

from fleet.figures import is_far

from ..numeric.words import Cause, EventsBasis, MeasureReason, NoDateReason, Status

# beside the causes a reason may be what asks for a measurement
MEASURE = Status.MEASURE.value


@dataclass(frozen=True)
class Reason:
    """One cause with its number and its limit.

    `basis`: age: how well the fitting day is known; events: how the day was found; loss: the verdict;
    trend: whose readings speak, or why there is no date; damage: the place; measure: what asks for it.
    `value` of a trend is the chance of being over on the day assessed, `accepted` the chance that the policy tolerates.
    `day` is when the loss was measured; `by_word`: a go/no-go tester said the verdict, and there is no number.
    `far`: its day lies beyond ten years, where words name none.
    `applies` is False where the cable's own readings judge it instead. `reached`: due on the day assessed.
    """

    cause: str
    due_on: date | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    basis: str = ""
    day: date | None = None
    event: str = ""
    not_confirmed: int = 0
    accepted: float | None = None
    applies: bool = True
    reached: bool = False
    by_word: bool = False
    far: bool = False

    def as_json(self):
        return {name: value.isoformat() if isinstance(value, date) else value for name, value in asdict(self).items()}

    @classmethod
    def from_json(cls, stored):
        days = {name: date.fromisoformat(stored[name]) for name in ("due_on", "day") if stored.get(name)}
        return cls(**stored | days)


def reasons(row):
    """Every cause of an `Assessment`: the leading one, the others reached, then by date, those without a date last."""
    found = (of_cause(row) for of_cause in _OF_CAUSE.values())
    known = [_seen_from(row, reason) for reason in found if reason]
    return sorted(known, key=lambda r: (r.cause != row.cause, not r.reached, not r.reached and (r.due_on or date.max)))


def _seen_from(row, reason):
    """With what follows from the day assessed."""
    return replace(reason, reached=_is_reached(row, reason), far=is_far(reason.due_on, row.assessed_on))


def _is_reached(row, reason):
    return reason.cause != MEASURE and row.has_reached(reason.cause)


def deciding_reason(row):
    """What the status rests on: for *measure* what asks for it, else the cause of the due date; None without one."""
    cause = MEASURE if row.status == Status.MEASURE else row.cause
    reason = cause and _OF_CAUSE[cause](row)
    return _seen_from(row, reason) if reason else None


def dating_reason(row):
    """The cause of the due date, which is the earliest and need not lead; None without a date."""
    dated = (reason for reason in reasons(row) if reason.applies and reason.due_on and reason.due_on == row.due_on)
    return next(dated, None)


def other_reached(row):
    """The causes that an `Assessment` has reached beside what its status rests on."""
    deciding = deciding_reason(row)
    return [reason for reason in reasons(row) if reason.reached and reason.cause != deciding.cause]


def _age(row):
    years = row.age_limit_months and row.age_limit_months / 12
    return Reason(
        Cause.AGE.value, row.age_due_on, value=years, limit=years, unit="years", basis=row.age_basis,
        applies=row.age_applies,
    )  # fmt: skip


def _events(row):
    return Reason(
        Cause.EVENTS.value, row.events_due_on, value=row.event_count, limit=row.event_limit, unit="events",
        basis=row.events_basis, event=_event_that_reaches(row), not_confirmed=row.not_confirmed,
        applies=row.events_applies,
    )  # fmt: skip


def _event_that_reaches(row):
    """The name of the planned event at which the limit is reached, where the row knows it."""
    event = row.before_event if row.events_basis == EventsBasis.PLANNED else None
    return event.name if event and event.starts_on == row.events_due_on else ""


def _loss(row):
    if row.measured_on is None:
        return Reason(Cause.LOSS.value, limit=row.loss_limit_db, unit="dB")
    return Reason(
        Cause.LOSS.value, row.loss_due_on, value=row.reference_loss_db, limit=row.loss_limit_db, unit="dB",
        basis=row.verdict, day=row.measured_on, by_word=row.go_no_go,
    )  # fmt: skip


def _trend(row):
    """Nothing where there is no line: too few readings in the pool, or its age is not known."""
    if row.trend_rate_db is None and not row.trend_no_date_reason:
        return None
    return Reason(
        Cause.TREND.value, row.trend_due_on, value=row.chance_over, limit=row.loss_limit_db, unit="dB",
        basis=row.trend_from if row.trend_due_on else _no_date_reason(row), accepted=row.accepted_risk,
    )  # fmt: skip


def _no_date_reason(row):
    """One reading does not fall: that is the line of similar cables."""
    similar_fall = row.trend_no_date_reason == NoDateReason.FALLING and not row.reads_a_rise
    return NoDateReason.SIMILAR_FALLING.value if similar_fall else row.trend_no_date_reason


def _damage(row):
    return row.damage_due_on and Reason(Cause.DAMAGE.value, row.damage_due_on, basis=row.damage_place)


def _measure(row):
    similar_due = row.measure_reason == MeasureReason.SIMILAR_DUE
    return row.measure_reason and Reason(
        MEASURE, value=row.chance_over if similar_due else row.reference_loss_db, limit=row.loss_limit_db, unit="dB",
        basis=row.measure_reason, day=row.measured_on, by_word=row.go_no_go,
    )  # fmt: skip


_OF_CAUSE = {
    Cause.DAMAGE: _damage,
    Cause.LOSS: _loss,
    Cause.TREND: _trend,
    Cause.EVENTS: _events,
    Cause.AGE: _age,
    MEASURE: _measure,
}
