"""Whatever is logged, answered, moved and corrected in whatever order: the days of mats equal a recount."""

from collections import Counter
from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from factories import make_event, make_mat, make_person
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sizes import examples

from fleet.choices import UsageState
from fleet.models import Event, Mat, MatDay, UsageEvent
from fleet.services.events import correct_event
from fleet.services.mat_days import DoubleBooked
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, call_off, correct_usage_event, log_event

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
STATES = st.sampled_from(UsageState.values)
EVENT, MAT = st.integers(0, 2), st.integers(0, 1)
DAY, LENGTH = st.integers(-4, 4), st.integers(0, 2)
ACTS = st.one_of(
    st.tuples(st.just("log"), EVENT, st.dictionaries(MAT, STATES, min_size=1)),
    st.tuples(st.just("answer"), EVENT, st.sampled_from(["went", "called off"])),
    st.tuples(st.just("move"), EVENT, DAY, LENGTH),
    st.tuples(st.just("correct"), EVENT, MAT, STATES),
    st.tuples(st.just("call off"), EVENT, MAT),
)


def do(act, by, confirmed=""):
    kind, number, *told = act
    event = Event.objects.get(code=f"E-{number}")
    rest = {"by": by, "on": ON}
    if kind == "log":
        usage = {Mat.objects.get(number=f"M-{mat}"): UsageValues(state) for mat, state in told[0].items()}
        log_event(event, usage, confirmed=confirmed, **rest)
    elif kind == "answer":
        answer_event(event, told[0], confirmed=confirmed, **rest)
    elif kind == "move":
        starts_on = ON + timedelta(days=told[0])
        dates = {"starts_on": starts_on, "ends_on": starts_on + timedelta(days=told[1])}
        correct_event(event, confirmed=confirmed, **dates, **rest)
    else:
        row = UsageEvent.objects.filter(event=event, mat__number=f"M-{told[0]}").first()
        if row and kind == "correct":
            correct_usage_event(row, state=told[1], confirmed=confirmed, **rest)
        elif row:
            call_off(row, **rest)


def do_with_the_keepers_word(act, by):
    """A refusal leaves everything as it was; a question is answered with yes."""
    before = stored()
    try:
        do(act, by)
    except DoubleBooked as asked:
        assert stored() == before
        do(act, by, asked.fingerprint)
    except ValidationError:
        assert stored() == before


def stored():
    days = MatDay.objects.values_list("mat", "day", "usage_event", "planned").order_by("mat", "day", "usage_event")
    return list(days), list(UsageEvent.objects.order_by("pk").values()), list(Event.objects.order_by("pk").values())


def recount():
    return Counter(
        (row.mat_id, row.event.starts_on + timedelta(days=number), row.pk, row.state == "planned")
        for row in UsageEvent.objects.select_related("event")
        if row.state != "called off"
        for number in range((row.event.ends_on - row.event.starts_on).days + 1)
    )


@given(acts=st.lists(ACTS, max_size=12))
@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_days_equal_a_recount_from_what_was_told(db, acts):
    with transaction.atomic():
        by = make_person()
        for number in range(3):
            make_event(ON + timedelta(days=number - 1), code=f"E-{number}")
        for number in range(2):
            make_mat(f"M-{number}")
        for act in acts:
            do_with_the_keepers_word(act, by)
        days = list(MatDay.objects.values_list("mat", "day", "usage_event", "planned"))
        assert Counter(days) == recount()
        planned = Counter((mat, day) for mat, day, _, is_planned in days if is_planned)
        assert all(times == 1 for times in planned.values())
        assert not UsageEvent.objects.filter(state="went", event__ends_on__gt=ON).exists()
        shared = {usage for mat, day, usage, _ in days if sum(d[:2] == (mat, day) for d in days) > 1}
        assert shared <= set_of_those_sharing_with_a_marked_one(days)
        transaction.set_rollback(True)


def set_of_those_sharing_with_a_marked_one(days):
    """No shared day without the keeper's word on one of the two."""
    marked = set(UsageEvent.objects.filter(shares_a_day=True).values_list("pk", flat=True))
    by_day = {}
    for mat, day, usage, _ in days:
        by_day.setdefault((mat, day), set()).add(usage)
    return set().union(*(usages for usages in by_day.values() if usages & marked), set())
