"""Reference pieces in the trend of the pool: they tell benches apart, and their days hold or give verdicts."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    make_depot,
    make_instrument,
    make_mat,
    make_piece,
    make_piece_reading,
    make_reading,
    say_of_bench_day,
)
from invariant_assessments import assessments_are_fresh, new_bench_days_are_fresh

from fleet.models import CableSegment, Mat
from inspections.assessment import services
from inspections.assessment.bench_day_selectors import Withheld, withheld_on
from inspections.assessment.pool_fits import stored_fit
from inspections.bench.days.said_services import distrust, look_at, take_back_look, trust_again
from inspections.bench.days.selectors import said_of
from inspections.bench.pieces.linked_selectors import unlinked_instruments
from inspections.bench.pieces.services import (
    agree_value,
    correct_piece_reading,
    correct_value,
    delete_piece_reading,
    record_piece_reading,
)
from inspections.bench.services import TypedReading, record_readings
from inspections.models import Assessment, BenchDay, Instrument, ReferencePiece
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
FITTED_ON, ON = date(2023, 10, 1), date(2026, 9, 30)
OFFSET_DB, PIECE_DB, SCATTER_DB = 0.3, 1.42, 0.02
DEPOTS = ("Quay", "Mill")


def level_db(segment, day):
    """What a cable of this pool loses itself: of those of one length each has a level of its own."""
    own_db = 0.8 * (segment.pk * 0.6180339887 % 1 - 0.5)
    return 0.8 + own_db + (0.6 + 0.3 * (day - FITTED_ON).days / 365.25) * segment.length_m


def day_of(number, depot):
    return FITTED_ON + timedelta(60 + 120 * number + 7 * DEPOTS.index(depot))


def make_two_benches():
    """Ten mats, half of them at each of two depots; the bench of the second reads 0.3 dB high on each of its days."""
    rng = np.random.default_rng(11)
    for name in DEPOTS:
        depot = make_depot(name)
        bench = make_instrument(f"{name} bridge", repeatability_db=SCATTER_DB)
        mats = [make_mat(fitted=True, fitted_on=FITTED_ON, depot=depot) for _ in range(5)]
        for number in range(8):
            day = day_of(number, name)
            shift_db = OFFSET_DB * (name == "Mill") + 0.03 * rng.standard_normal()
            for fitting in [each for mat in mats for each in mat.fittings.select_related("segment")]:
                loss_db = level_db(fitting.segment, day) + shift_db + SCATTER_DB * rng.standard_normal()
                make_reading(fitting.segment, round(float(loss_db), 3), day, instrument=bench)
    services.assess_pool(ON)


@pytest.fixture(scope="module")
def benches(shared_rows):
    with shared_rows(make_two_benches):
        yield


def read_at_both(value_sd_db=0.01):
    """One piece, read on the first bench day of each half year at either depot."""
    piece = make_piece("Q-ref", PIECE_DB, value_sd_db, agreed_on=FITTED_ON)
    rng = np.random.default_rng(12)
    for name in DEPOTS:
        bench = Instrument.objects.get(name=f"{name} bridge")
        for number in range(8):
            shown_db = PIECE_DB + OFFSET_DB * (name == "Mill") + 0.03 * rng.standard_normal()
            make_piece_reading(piece, round(float(shown_db), 3), day_of(number, name), instrument=bench)
            # what is off by more than its limits was looked at
            say_of_bench_day(day_of(number, name), bench, looked_on=day_of(number, name))
    return piece


def apart_db():
    """By how much cables of the second depot are taken for worse than they are, those of the first left aside."""
    found = {}
    for name in DEPOTS:
        rows = Assessment.objects.filter(mat__depot__name=name).select_related("segment")
        found[name] = np.mean([row.trend_level_db - level_db(row.segment, row.trend_level_on) for row in rows])
    return found["Mill"] - found["Quay"]


def test_without_a_common_piece_two_benches_stay_apart_and_with_one_they_agree(benches):
    assert apart_db() > OFFSET_DB / 3
    late = Assessment.objects.filter(mat__depot__name="Mill").order_by("segment")
    before = list(late.values_list("trend_expected_on", flat=True))
    read_at_both()
    services.assess_pool(ON)
    assert abs(apart_db()) < 0.05
    after = late.values_list("trend_expected_on", flat=True)
    moved = [(day - early).days for early, day in zip(before, after, strict=True) if early and day]
    # 0.3 dB are 0.3 / (0.3 · length) years
    assert np.median(moved) > 60
    assert [*assessments_are_fresh(), *new_bench_days_are_fresh()] == []


def test_the_bench_days_of_the_fit_say_how_many_pieces_they_rest_on(benches):
    read_at_both()
    services.assess_pool(ON)
    mill = BenchDay.objects.filter(instrument__name="Mill bridge")
    assert set(mill.values_list("piece_readings", flat=True)) == {1}
    assert np.mean(mill.values_list("shift_db", flat=True)) == pytest.approx(OFFSET_DB, abs=0.05)


def test_a_piece_read_at_one_bench_alone_leaves_them_unlinked(benches):
    names = [[each.name for each in group] for group in unlinked_instruments(ON).groups]
    assert names == [["Mill bridge"], ["Quay bridge"]]
    piece = make_piece("Q-ref", PIECE_DB, agreed_on=FITTED_ON)
    mill, quay = Instrument.objects.order_by("name")
    make_piece_reading(piece, PIECE_DB, ON, instrument=quay)
    assert unlinked_instruments(ON) is not None
    make_piece_reading(piece, PIECE_DB, ON, instrument=mill)
    assert unlinked_instruments(ON) is None
    assert unlinked_instruments(ON - timedelta(1)) is not None


def test_benches_are_linked_by_way_of_a_third(benches):
    third, piece, other = make_instrument("third"), make_piece("P-1", agreed_on=FITTED_ON), make_piece("P-2", None)
    mill, quay = Instrument.objects.exclude(pk=third.pk).order_by("name")
    for each, bench in ((piece, mill), (piece, third), (other, third), (other, quay)):
        make_piece_reading(each, PIECE_DB, ON, instrument=bench)
    assert unlinked_instruments(ON) is not None, "the second piece has no agreed value"
    other.values.update(agreed_loss_db=PIECE_DB, uncertainty_db=0.02)
    assert unlinked_instruments(ON) is None
    say_of_bench_day(ON, third, not_trusted_reason="lead crushed")
    assert unlinked_instruments(ON) is not None, "that day tells nothing"


def measure(mat, *, by, high_db, **values):
    """Type the losses of a mat as a bench finds them that reads so much high."""
    segments = [fitting.segment for fitting in mat.fittings.select_related("segment")]
    typed = [TypedReading(each, TypedLoss(round(level_db(each, ON) + high_db, 3))) for each in segments]
    return record_readings(mat, typed, by=by, on=ON, measured_on=ON, **values)


@pytest.fixture
def quay(benches):
    return Instrument.objects.get(name="Quay bridge")


@pytest.fixture
def mat(benches):
    return Mat.objects.filter(depot__name="Quay").first()


def test_a_new_day_takes_its_shift_from_the_piece_as_well(mat, quay, keeper):
    measure(mat, by=keeper, high_db=0.1, instrument=quay)
    alone = BenchDay.objects.get(in_fit=False)
    piece = make_piece("Q-ref", PIECE_DB, 0.002, agreed_on=ON)
    record_piece_reading(piece, by=keeper, on=ON, measured_on=ON, loss_db=PIECE_DB + 0.06, instrument=quay)
    day = BenchDay.objects.get(in_fit=False)
    # derived: the posterior of what the cables say and one further term
    cables, own = 1 / alone.shift_sd_db**2, 1 / (SCATTER_DB**2 + 0.002**2)
    assert day.shift_db == pytest.approx((cables * alone.shift_db + own * 0.06) / (cables + own), abs=1e-9)
    assert day.shift_sd_db == pytest.approx((cables + own) ** -0.5, rel=1e-9)
    assert (day.readings, day.piece_readings) == (4, 1)
    assert [*assessments_are_fresh(), *new_bench_days_are_fresh()] == []


def test_what_is_changed_of_a_piece_changes_its_new_day_and_is_taken_back_whole(mat, quay, keeper):
    measure(mat, by=keeper, high_db=0.1, instrument=quay)
    before = BenchDay.objects.get(in_fit=False)
    piece = make_piece("Q-ref", PIECE_DB, 0.01, agreed_on=FITTED_ON)
    bench_day = {"measured_on": ON, "instrument": quay}
    shifts = []

    def note_shift():
        assert [*assessments_are_fresh(), *new_bench_days_are_fresh()] == []
        shifts.append(BenchDay.objects.get(in_fit=False).shift_db)

    reading = record_piece_reading(piece, by=keeper, on=ON, loss_db=PIECE_DB + 0.06, **bench_day)
    note_shift()
    correct_piece_reading(reading, by=keeper, on=ON, loss_db=PIECE_DB - 0.06, **bench_day)
    note_shift()
    value = agree_value(piece, by=keeper, on=ON, agreed_on=ON, agreed_loss_db=PIECE_DB - 0.1, uncertainty_db=0.01)
    note_shift()
    correct_value(value, by=keeper, on=ON, agreed_on=ON, agreed_loss_db=PIECE_DB, uncertainty_db=0.05)
    note_shift()
    correct_piece_reading(reading, by=keeper, on=ON, loss_db=PIECE_DB, measured_on=ON - timedelta(1), instrument=quay)
    note_shift()
    assert shifts[-1] == pytest.approx(before.shift_db), "it belongs to another day now"
    delete_piece_reading(reading, by=keeper, on=ON, reason="never was")
    note_shift()
    assert shifts[-1] == pytest.approx(before.shift_db)
    assert len(set(np.round(shifts[:4], 6))) == 4


def verdicts_of(mat):
    rows = Assessment.objects.filter(mat=mat).order_by("position")
    return [(row.measured_on == ON, row.verdict) for row in rows]


def test_a_day_that_is_off_is_held_until_looked_at_and_stays_in_the_fit(mat, quay, keeper):
    before = verdicts_of(mat)
    piece = make_piece("Q-ref", PIECE_DB, 0.01, agreed_on=FITTED_ON)
    record_piece_reading(piece, by=keeper, on=ON, measured_on=ON, loss_db=PIECE_DB + 0.5, instrument=quay)
    measure(mat, by=keeper, high_db=0.5, instrument=quay)
    assert verdicts_of(mat) == before, "the newest other reading counts"
    # less than 0.5 dB: no other bench day of the pool was off by so much
    by_cables_alone = BenchDay.objects.get(in_fit=False).shift_db
    assert 0.25 < by_cables_alone < 0.5
    with_day = list(Assessment.objects.filter(mat=mat).values_list("trend_level_on", flat=True))
    assert set(with_day) == {ON}
    said = look_at(said_of(ON, quay), by=keeper, on=ON, looked_on=ON, found="adapter")
    # what the piece read counts once somebody looked: before, it might be a slip of the keyboard
    assert by_cables_alone + 0.02 < BenchDay.objects.get(in_fit=False).shift_db < 0.5
    assert [read_today for read_today, _ in verdicts_of(mat)] == [True] * 4
    assert [*assessments_are_fresh(), *new_bench_days_are_fresh()] == []
    take_back_look(said, by=keeper, on=ON, reason="it was not this bench")
    assert verdicts_of(mat) == before
    # as it was known on the day before, and on the day itself before somebody looked
    assert {row.measured_on < ON for row in services.assessments(ON, fitted=stored_fit())} == {True}


def test_a_day_looked_at_later_is_held_until_that_day(mat, quay):
    segment, day = mat.fittings.first().segment, ON - timedelta(3)
    make_reading(segment, 1.0, day, instrument=quay)
    make_piece_reading(make_piece(agreed_on=FITTED_ON), PIECE_DB + 0.5, day, instrument=quay)
    say_of_bench_day(day, quay, looked_on=ON - timedelta(1))

    def newest(on):
        (row,) = services.assessments(on, [segment.pk])
        return row.measured_on

    assert newest(ON - timedelta(2)) < day
    assert newest(ON - timedelta(1)) == day


def test_a_day_counts_until_the_day_on_which_it_is_marked_and_from_the_start_once_the_mark_is_taken_back(
    mat, quay, keeper
):
    """As a void reading does: what was known on an earlier day stays what it was."""
    segment, day, marked = mat.fittings.first().segment, ON - timedelta(3), ON - timedelta(1)
    make_reading(segment, 1.0, day, instrument=quay)

    def newest(on):
        (row,) = services.assessments(on, [segment.pk])
        return row.measured_on == day, withheld_on(on, [(day, quay.pk)])

    said = distrust(said_of(day, quay), by=keeper, on=marked, reason="lead crushed")
    assert newest(marked - timedelta(1)) == (True, {})
    assert newest(marked) == newest(ON) == (False, {(day, quay.pk): Withheld("lead crushed")})
    trust_again(said, by=keeper, on=ON, reason="it was the other lead")
    assert newest(marked) == newest(ON) == (True, {})


def test_an_earlier_fit_keeps_a_day_that_was_marked_later(benches, quay):
    day = day_of(3, "Quay")
    say_of_bench_day(day, quay, not_trusted_reason="lead crushed", not_trusted_on=ON)
    services.assess_pool(ON - timedelta(1))
    assert BenchDay.objects.filter(measured_on=day, instrument=quay).exists()
    services.assess_pool(ON)
    assert not BenchDay.objects.filter(measured_on=day, instrument=quay).exists()


def test_a_day_not_to_be_trusted_gives_nothing_and_comes_back_whole(mat, quay, keeper):
    piece = make_piece("Q-ref", PIECE_DB, 0.01, agreed_on=FITTED_ON)
    before = list(Assessment.objects.order_by("pk").values_list("pk", "verdict", "measured_on", "trend_level_db"))
    measure(mat, by=keeper, high_db=0.4, instrument=quay)
    record_piece_reading(piece, by=keeper, on=ON, measured_on=ON, loss_db=PIECE_DB, instrument=quay)
    known = verdicts_of(mat)
    said = distrust(said_of(ON, quay), by=keeper, on=ON, reason="lead crushed")
    after = list(Assessment.objects.order_by("pk").values_list("pk", "verdict", "measured_on", "trend_level_db"))
    assert [row[:3] for row in after] == [row[:3] for row in before]
    assert [row[3] for row in after] == pytest.approx([row[3] for row in before], abs=1e-9)
    assert not BenchDay.objects.filter(in_fit=False).exists()
    assert [*assessments_are_fresh(), *new_bench_days_are_fresh()] == []
    trust_again(said, by=keeper, on=ON, reason="it was the other lead")
    assert verdicts_of(mat) == known and BenchDay.objects.filter(in_fit=False).exists()


def test_no_signal_of_a_day_not_to_be_trusted_is_no_fault_of_the_cable(mat, quay):
    segment = mat.fittings.first().segment
    make_reading(segment, None, ON, instrument=quay)
    (row,) = services.assessments(ON, [segment.pk])
    assert row.verdict == "over"
    say_of_bench_day(ON, quay, not_trusted_reason="lead crushed")
    (row,) = services.assessments(ON, [segment.pk])
    assert (row.verdict, row.measured_on) == ("within", day_of(7, "Quay"))


def test_the_trend_leaves_a_day_not_to_be_trusted_out_at_the_next_fit(benches, quay):
    day = day_of(3, "Quay")
    say_of_bench_day(day, quay, not_trusted_reason="lead crushed")
    services.assess_pool(ON)
    assert not BenchDay.objects.filter(measured_on=day, instrument=quay).exists()
    assert BenchDay.objects.filter(measured_on=day_of(2, "Quay"), instrument=quay).exists()


def test_the_number_of_queries_does_not_grow_with_pieces_and_words(benches, quay):
    segment, counts = CableSegment.objects.first().pk, []
    for number in (1, 5):
        for back in range(number):
            day = ON - timedelta(10 * number + back)
            make_piece_reading(make_piece(agreed_on=FITTED_ON), PIECE_DB, day, instrument=quay)
            say_of_bench_day(day, quay, looked_on=day)
        with CaptureQueriesContext(connection) as queries:
            services.reassess([segment], on=ON)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert ReferencePiece.objects.count() == 6
