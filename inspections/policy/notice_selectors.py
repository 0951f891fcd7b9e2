"""What the due list and *Start here* say of the limits: many cables due though sound, or long before their use asks."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Case, Count, DateField, F, Max, Min, Q, Sum, Value, When

from fleet.models import MatDesign, UsageEvent
from fleet.selectors.usual_use import first_counted

from ..assessment.policy_in_force import current_policy
from ..choices import SETTINGS
from ..models import Assessment
from ..numeric.calendar import whole_months
from ..numeric.words import DUE, Cause, NoDateReason, Status, TrendFrom

# fewer than a quarter of what is due are not many
MANY = 0.25
# the age limit is meant for mats that go out every week; these go out less than half as often
SELDOM = 26
MOST_DESIGNS = 3
# beyond twice the largest pool that is known of, pages would wait for what they say here
MOST_CABLES = 10_000
AGE_LIMIT = SETTINGS["age_limit_years"]


@dataclass(frozen=True)
class Notices:
    """What pages say above the cables to change; each None where there is nothing to say."""

    sound: object = None
    seldom: object = None


@dataclass(frozen=True)
class MeasuredSound:
    """Cables due by age or events alone whose newest reading is sound.

    `with_own_say`: those of which their readings alone could say how worn they are. `may_decide`: it is not set yet
    that they do.
    """

    cables: int
    of_due: int
    with_own_say: int
    may_decide: bool


@dataclass(frozen=True)
class SeldomUsed:
    """Cables due by age alone in mats that go out less than half as often as the age limit is meant for.

    `times_a_year` of the mats and `outings` of the cables are (fewest, most). `by_use_on`: the first day on which any
    of them would be due by its use; None where none has one. `long_m`: a length that only the long half exceeds, None
    where all have one length; `designs`: those with longer positions.
    """

    cables: int
    mats: int
    times_a_year: tuple[int, int]
    outings: tuple[int, int]
    by_use_on: date | None
    longest_m: float
    long_m: float | None
    designs: list
    limit_months: int

    @property
    def twice_the_limit_months(self):
        return 2 * self.limit_months


def notices(on, policy):
    """Notices of the pool; a very large one goes without."""
    if Assessment.objects.count() > MOST_CABLES:
        return Notices()
    return Notices(measured_sound(on, policy), seldom_used(on, policy))


def foremost_notice(on):
    """Notices with the first alone of which there is something to say, for a page that has room for one."""
    if Assessment.objects.count() > MOST_CABLES:
        return Notices()
    policy = current_policy()
    sound = measured_sound(on, policy)
    return Notices(sound, None if sound else seldom_used(on, policy))


def measured_sound(on, policy):
    """None where they are not many."""
    due, asked_by = Assessment.objects.of_status(*DUE), _asked_by(on, policy)
    by_calendar = Q(cause__in=(Cause.AGE, Cause.EVENTS)) & _not_due_by(Cause.TREND, asked_by)
    sound = Q(measured_sound=True) & by_calendar
    # as `has_own_say` of numeric/due.py says of arrays
    own_say = Q(trend_from=TrendFrom.OWN, trend_no_date_reason__in=("", NoDateReason.LATER))
    counts = due.aggregate(
        cables=Count("pk", filter=sound), of_due=Count("pk"), with_own_say=Count("pk", filter=sound & own_say)
    )
    if counts["cables"] < max(1, MANY * counts["of_due"]):
        return None
    return MeasuredSound(**counts, may_decide=not policy.value("own_readings_decide"))


def seldom_used(on, policy):
    """None where they are not many of what is due; where the age limit is the keeper's own, it is meant as it is."""
    due, asked_by = Assessment.objects.of_status(*DUE), _asked_by(on, policy)
    rows = due.filter(
        _not_due_by(Cause.TREND, asked_by),
        _not_due_by(Cause.EVENTS, asked_by),
        cause=Cause.AGE,
        measured_sound=False,
        age_limit_months=int(whole_months(AGE_LIMIT.default)),
    )
    mats = {row["mat"]: row for row in _by_mat(rows)}
    times = _times_a_year(mats, on)
    # of a mat of which no use is on record nobody knows how often it goes out
    seldom = [mat for mat, row in mats.items() if times.get(mat, 0) < SELDOM and row["most"] + times.get(mat, 0)]
    if not seldom or sum(mats[mat]["cables"] for mat in seldom) < MANY * due.count():
        return None
    return _summary([mats[mat] for mat in seldom], times)


def _asked_by(on, policy):
    """The day for which the status of what is due asks: today, the end of the event, or that of the look-ahead.

    As `day_in_question` of numeric/due.py says of arrays.
    """
    last_days = {
        Status.CHANGE_NOW: Value(on),
        Status.CHANGE_BEFORE: F("before_event__ends_on"),
        Status.CHANGE_SOON: Value(on + timedelta(days=policy.value("look_ahead_days"))),
    }
    cases = [When(urgency=status.order, then=day) for status, day in last_days.items()]
    return Case(*cases, output_field=DateField())


def _not_due_by(cause, day):
    """The condition: by that day the cause is not reached."""
    return Q(**{f"{cause}_due_on": None}) | Q(**{f"{cause}_due_on__gt": day})


def _by_mat(rows):
    return (
        rows.order_by()
        .values("mat")
        .annotate(
            cables=Count("pk"),
            fewest=Min("event_count"),
            most=Max("event_count"),
            by_use=Min("events_due_on"),
            shortest_m=Min("segment__length_m"),
            longest_m=Max("segment__length_m"),
        )
    )


def _times_a_year(mats, on):
    """{mat: events that counted in the last year}, as the rate of the due rules is counted."""
    if not mats:
        return {}
    rows = UsageEvent.objects.counted(on).filter(mat__in=list(mats), event__starts_on__gte=first_counted(on))
    return dict(rows.order_by().values_list("mat").annotate(times=Sum("counts_for")))


def _summary(mats, times):
    """`mats`: rows of `_by_mat`."""
    shortest_m, longest_m = min(row["shortest_m"] for row in mats), max(row["longest_m"] for row in mats)
    long_m = round((shortest_m + longest_m) / 2, 1) if longest_m > shortest_m + 0.1 else None
    rates = [times.get(row["mat"], 0) for row in mats]
    return SeldomUsed(
        cables=sum(row["cables"] for row in mats),
        mats=len(mats),
        times_a_year=(min(rates), max(rates)),
        outings=(min(row["fewest"] for row in mats), max(row["most"] for row in mats)),
        by_use_on=min((row["by_use"] for row in mats if row["by_use"]), default=None),
        longest_m=longest_m,
        long_m=long_m,
        designs=_longer_designs([row["mat"] for row in mats], long_m) if long_m else [],
        limit_months=int(whole_months(AGE_LIMIT.default)),
    )


def _longer_designs(mats, long_m):
    designs = MatDesign.objects.filter(mats__in=mats, positions__length_m__gt=long_m)
    return list(designs.distinct()[:MOST_DESIGNS])
