"""Whatever is fitted, moved, taken out, logged, corrected, called off and voided, in whatever order:

what the pool keeps beside its records, event counts, days of mats and newest losses, equals a recount from its export,
made here by pandas from the files alone.
"""

from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from factories import make_design, make_event, make_mat, make_person, make_segment
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sizes import examples

from fleet.choices import UsageState
from fleet.models import CableSegment, Event, Fitting, Mat, MatDay, UsageEvent
from fleet.services.events import correct_event
from fleet.services.fittings import TakenOut, correct_fitting, fit_segment, take_out
from fleet.services.loans import take_back_loan
from fleet.services.mat_days import DoubleBooked
from fleet.services.series import repeat_event
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, call_off, correct_usage_event, log_event
from fleet.services.use_of_months import say_months
from fleet.services.usual_use import say_usual_use
from inspections.bench.services import TypedReading, record_readings, void_reading
from inspections.files.saving import export_folder
from inspections.models import Assessment, Measurement
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
DAYS_AGO = st.integers(0, 8)
MAT, POSITION, SEGMENT, EVENT = st.integers(0, 1), st.integers(1, 2), st.integers(0, 3), st.integers(0, 3)
STATE, COUNT, NUMBER = st.sampled_from(UsageState.values), st.integers(1, 4), st.integers(0, 3)
ACTS = st.one_of(
    st.tuples(st.just("fit"), SEGMENT, MAT, POSITION, DAYS_AGO),
    st.tuples(st.just("take out"), NUMBER, DAYS_AGO),
    st.tuples(st.just("correct fitting"), NUMBER, DAYS_AGO),
    st.tuples(st.just("log"), EVENT, st.dictionaries(MAT, STATE, min_size=1), COUNT),
    st.tuples(st.just("answer"), EVENT, st.sampled_from(["went", "called off"])),
    st.tuples(st.just("move"), EVENT, st.integers(-8, 3), st.integers(0, 2)),
    st.tuples(st.just("correct usage"), NUMBER, STATE, COUNT),
    st.tuples(st.just("call off"), NUMBER),
    st.tuples(st.just("repeat"), EVENT, st.integers(1, 2)),
    st.tuples(st.just("back"), EVENT, COUNT),
    st.tuples(st.just("usual"), MAT, st.integers(0, 30)),
    st.tuples(st.just("in all"), MAT, st.none() | st.integers(0, 9)),
    st.tuples(st.just("read"), NUMBER, st.sampled_from([0.5, 1.0, 2.0, 3.5, None]), DAYS_AGO),
    st.tuples(st.just("void"), NUMBER),
)


def ago(days):
    return ON - timedelta(days=days)


def fit(by, segment, mat, position, days, confirmed):
    mat = Mat.objects.get(number=f"M-{mat}")
    there = mat.fittings.filter(position=position, removed_on=None).first()
    out = there and TakenOut(there, "worn")
    segment = CableSegment.objects.get(serial=f"C-{segment}")
    fit_segment(segment, mat, position, by=by, on=ON, fitted_on=ago(days), out=out, move=True)


def take_one_out(by, number, days, confirmed):
    fitting = nth(Fitting.objects.filter(removed_on=None), number)
    take_out(fitting, by=by, on=ON, removed_on=ago(days), reason="worn")


def correct_a_fitting(by, number, days, confirmed):
    correct_fitting(nth(Fitting.objects.all(), number), by=by, on=ON, fitted_on=ago(days))


def log(by, event, states, count, confirmed):
    usage = {Mat.objects.get(number=f"M-{mat}"): UsageValues(state, count) for mat, state in states.items()}
    log_event(an_event(event), usage, by=by, on=ON, confirmed=confirmed)


def answer(by, event, state, confirmed):
    answer_event(an_event(event), state, by=by, on=ON, confirmed=confirmed)


def move(by, event, day, length, confirmed):
    dates = {"starts_on": ON + timedelta(days=day), "ends_on": ON + timedelta(days=day + length)}
    correct_event(an_event(event), by=by, on=ON, confirmed=confirmed, **dates)


def correct_usage(by, number, state, count, confirmed):
    row = nth(UsageEvent.objects.all(), number)
    correct_usage_event(row, by=by, on=ON, confirmed=confirmed, state=state, counts_for=count)


def call_one_off(by, number, confirmed):
    call_off(nth(UsageEvent.objects.all(), number), by=by, on=ON)


def repeat(by, event, every_weeks, confirmed):
    event = an_event(event)
    repeat_event(event, every_weeks=every_weeks, until=event.starts_on + timedelta(weeks=2), by=by, on=ON)


def back(by, event, count, confirmed):
    counts = dict.fromkeys(Mat.objects.all(), count)
    take_back_loan(an_event(event), counts, basis="reported", by=by, on=ON, confirmed=confirmed)


def usual(by, mat, times_a_year, confirmed):
    say_usual_use(Mat.objects.get(number=f"M-{mat}"), times_a_year, by=by, on=ON)


def in_all(by, mat, number, confirmed):
    """Of the month of that day, in which most events are."""
    mat, said = Mat.objects.get(number=f"M-{mat}"), {ON.replace(day=1): number}
    say_months(mat, said, last=ON, by=by, on=ON, confirmed=confirmed)


def read(by, number, loss_db, days, confirmed):
    fitting = nth(Fitting.objects.filter(removed_on=None), number)
    typed = [TypedReading(fitting.segment, TypedLoss.of_column(loss_db))]
    record_readings(fitting.mat, typed, by=by, on=ON, measured_on=ago(days))


def void(by, number, confirmed):
    void_reading(nth(Measurement.objects.all(), number), by=by, on=ON, reason="wrong cable")


DO = {
    "fit": fit,
    "take out": take_one_out,
    "correct fitting": correct_a_fitting,
    "log": log,
    "answer": answer,
    "move": move,
    "correct usage": correct_usage,
    "call off": call_one_off,
    "repeat": repeat,
    "back": back,
    "usual": usual,
    "in all": in_all,
    "read": read,
    "void": void,
}


def nth(rows, number):
    rows = list(rows.order_by("pk"))
    if not rows:
        raise ValidationError("There is none yet.")
    return rows[number % len(rows)]


def an_event(number):
    return Event.objects.get(code=f"E-{number}")


def do_with_the_keepers_word(act, by):
    kind, *values = act
    try:
        DO[kind](by, *values, confirmed="")
    except DoubleBooked as asked:
        with_word = asked.fingerprint
        DO[kind](by, *values, confirmed=with_word)
    except ValidationError:
        pass


def exported():
    with TemporaryDirectory() as folder:
        export_folder(Path(folder) / "out")
        return {file.stem: pd.read_csv(file, dtype=str) for file in (Path(folder) / "out").glob("*.csv")}


def usage_with_days(files):
    """Days stay as they are written: ISO days sort as text."""
    usage = files["usage"].merge(files["events"][["event", "starts_on", "ends_on"]], on="event")
    return usage.assign(counts_for=usage["counts_for"].astype(int))


def recounted_mat_days(files):
    usage = usage_with_days(files)
    usage = usage[(usage["state"] != "called off") & (usage["basis"] != "usual")]
    return sorted(
        (row.mat, day.date(), row.event, row.state == "planned")
        for row in usage.itertuples()
        for day in pd.date_range(row.starts_on, row.ends_on)
    )


def kept_mat_days():
    rows = MatDay.objects.values_list("mat__number", "day", "usage_event__event__code", "planned")
    return sorted(rows)


def recounted_events(files):
    """{segment fitted on the day: (events, usage events among them that nobody confirmed, events that gave way)}

    Usual use gives way where another event of its mat that counts starts in its month.
    """
    on, usage, fittings = (
        f"{ON}",
        usage_with_days(files),
        files["fittings"][["segment", "mat", "fitted_on", "removed_on"]],
    )
    fittings = fittings.fillna({"removed_on": "9999-12-31"})
    over = (usage["state"] == "planned") & (usage["ends_on"] < on)
    usage = usage.assign(waits=over.astype(int))
    usage = usage[(over | (usage["state"] == "went")) & (usage["starts_on"] <= on)]
    usage = usage.assign(month=usage["mat"] + " " + usage["starts_on"].str[:7])
    is_usual = usage["basis"] == "usual"
    gone = is_usual & usage["month"].isin(usage.loc[~is_usual, "month"])
    usage = usage.assign(given_way=usage["counts_for"].where(gone, 0), counts_for=usage["counts_for"].mask(gone, 0))
    there = fittings.merge(usage, on="mat")
    there = there[(there["starts_on"] >= there["fitted_on"]) & (there["starts_on"] < there["removed_on"])]
    sums = there.groupby("segment")[["counts_for", "waits", "given_way"]].sum()
    before = files["segments"].set_index("segment")["events_before"].fillna("0").astype(int)
    in_place = fittings[(fittings["fitted_on"] <= on) & (fittings["removed_on"] > on)]["segment"]
    return {
        segment: (
            before[segment] + sums["counts_for"].get(segment, 0),
            sums["waits"].get(segment, 0),
            sums["given_way"].get(segment, 0),
        )
        for segment in in_place
    }


def kept_events():
    rows = Assessment.objects.values_list("segment__serial", "event_count", "not_confirmed", "given_way")
    return {segment: tuple(values) for segment, *values in rows}


def counted_by_query():
    """{segment: (events, events that gave way)} as the querysets have it, of segments fitted on the day."""
    before = dict(CableSegment.objects.values_list("pk", "events_before"))
    return {
        fitting.segment.serial: tuple(
            given + sum(_of_segment(fitting.segment, usage))
            for given, usage in (
                (before[fitting.segment_id] or 0, UsageEvent.objects.counted(ON)),
                (0, UsageEvent.objects.given_way(ON)),
            )
        )
        for fitting in Fitting.objects.current(ON).select_related("segment")
    }


def _of_segment(segment, usage):
    usage = list(usage.select_related("event"))
    for fitting in segment.fittings.all():
        yield from (
            row.counts_for for row in usage if row.mat_id == fitting.mat_id and fitting.covers(row.event.starts_on)
        )


def recounted_losses(files):
    """{segment: (day, loss)} of the newest day with readings that count; several: their median, no signal wins."""
    rows = files["measurements"]
    rows = rows[rows["voided_on"].isna()]
    newest = rows[rows["measured_on"] == rows.groupby("segment")["measured_on"].transform("max")]
    return {
        segment: (date.fromisoformat(group["measured_on"].iloc[0]), median_loss(group["loss_db"]))
        for segment, group in newest.groupby("segment")
    }


def median_loss(losses):
    return None if "no signal" in set(losses) else float(losses.astype(float).median())


def kept_losses():
    rows = Assessment.objects.filter(measured_on__isnull=False)
    return {
        segment: (day, loss)
        for segment, day, loss in rows.values_list("segment__serial", "measured_on", "reference_loss_db")
    }


def make_pool():
    design = make_design("two", lengths_m=[0.6, 1.1])
    mats = [make_mat(f"M-{number}", design=design) for number in range(2)]
    for number in range(4):
        make_segment(0.6, f"C-{number}", events_before=7 if number == 1 else None)
        make_event(ON + timedelta(days=2 * number - 5), code=f"E-{number}")
    return mats


GIVES_WAY = [("usual", 0, 24), ("log", 0, {0: "planned"}, 3)]
COUNTS_AGAIN = [*GIVES_WAY, ("answer", 0, "called off")]
SAID_IN_ALL = [("usual", 0, 24), ("log", 1, {0: "went"}, 2), ("in all", 0, 5), ("in all", 0, None)]


@given(acts=st.lists(ACTS, min_size=4, max_size=12))
@example(acts=GIVES_WAY)
@example(acts=COUNTS_AGAIN)
@example(acts=SAID_IN_ALL)
@settings(max_examples=examples(10), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_kept_equals_a_recount_from_the_export(db, acts):
    with transaction.atomic():
        by, mats = make_person(), make_pool()
        for number, mat in enumerate(mats):
            segment = CableSegment.objects.get(serial=f"C-{number}")
            fit_segment(segment, mat, 1, by=by, on=ON, fitted_on=ago(20))
        for act in acts:
            do_with_the_keepers_word(act, by)
        files = exported()
        assert kept_mat_days() == recounted_mat_days(files)
        assert kept_events() == recounted_events(files)
        by_query = {segment: (count, given_way) for segment, (count, _, given_way) in kept_events().items()}
        assert counted_by_query() == by_query
        counted = recounted_losses(files)
        assert kept_losses() == {segment: counted[segment] for segment in kept_events() if segment in counted}
        transaction.set_rollback(True)
