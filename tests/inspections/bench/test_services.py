"""Readings at the bench: kept whole or not at all, numbered, made void with a trail."""

from datetime import date
from threading import Barrier, Thread

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from factories import fit, make_instrument, make_mat, make_reading, make_segment

from inspections.assessment.services import reassess
from inspections.bench.selectors import bench_rows, mats_at_bench, specified_mat
from inspections.bench.services import TypedReading, clear_doubt, mark_doubtful, record_readings, void_reading
from inspections.bench.verdicts import criteria_of_design
from inspections.models import Assessment, Measurement
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
MEASURED_ON = date(2026, 9, 29)
NO_SIGNAL = TypedLoss(None, no_signal=True)


def segments_of(mat):
    return [fitting.segment for fitting in mat.fittings.order_by("position").select_related("segment")]


def keep(mat, readings, by, on, **values):
    return record_readings(mat, readings, by=by, on=on, **{"measured_on": MEASURED_ON, **values})


def test_a_form_is_kept_with_what_holds_for_all_its_readings(bench_hand, on):
    mat, bridge = make_mat(fitted=True), make_instrument("bridge")
    one, two, *_ = segments_of(mat)
    keep(
        mat,
        [TypedReading(one, TypedLoss(1.31)), TypedReading(two, NO_SIGNAL, "after cleaning")],
        bench_hand,
        on,
        frequency_mhz=915.0,
        temperature_c=12.0,
        instrument=bridge,
        measured_by="Ida",
        reason="suspect",
    )
    kept = Measurement.objects.values_list(
        "segment", "loss_db", "no_signal", "taken",
        "frequency_mhz", "temperature_c", "instrument__name", "measured_by", "reason", "recorded_by", "measured_on",
    ).order_by("pk")  # fmt: skip
    alike = (915.0, 12.0, "bridge", "Ida", "suspect", bench_hand.pk, MEASURED_ON)
    assert list(kept) == [
        (one.pk, 1.31, False, "as found", *alike),
        (two.pk, None, True, "after cleaning", *alike),
    ]


def test_measuring_again_on_the_same_day_adds_a_repeat(bench_hand, on):
    mat = make_mat(fitted=True)
    segment = segments_of(mat)[0]
    make_reading(segment, 1.2, MEASURED_ON, voided_on=on)
    keep(
        mat,
        [TypedReading(segment, TypedLoss(1.3)), TypedReading(segment, TypedLoss(1.1), "after cleaning")],
        bench_hand,
        on,
    )
    keep(mat, [TypedReading(segment, TypedLoss(1.4))], bench_hand, on)
    assert list(Measurement.objects.order_by("repeat").values_list("repeat", "loss_db")) == [
        (1, 1.2),
        (2, 1.3),
        (3, 1.1),
        (4, 1.4),
    ]


def test_one_wrong_loss_keeps_none_of_the_form(bench_hand, on):
    mat = make_mat(fitted=True)
    one, two, *_ = segments_of(mat)
    with pytest.raises(ValidationError):
        keep(mat, [TypedReading(one, TypedLoss(1.3)), TypedReading(two, TypedLoss(131.0))], bench_hand, on)
    assert not Measurement.objects.exists()


def test_a_cable_that_was_not_in_the_mat_that_day_is_refused_by_name(bench_hand, on):
    mat, late = make_mat(), make_segment(serial="C-late")
    fit(late, mat, 1, fitted_on=date(2026, 9, 30))
    with pytest.raises(ValidationError, match=r"Not in .* on 29 Sep 2026: C-late"):
        keep(mat, [TypedReading(late, TypedLoss(1.3))], bench_hand, on)


def test_a_day_after_today_is_refused(bench_hand, on):
    mat = make_mat(fitted=True)
    with pytest.raises(ValidationError, match="is after today"):
        keep(mat, [TypedReading(segments_of(mat)[0], TypedLoss(1.3))], bench_hand, on, measured_on=date(2026, 10, 1))


def test_a_reading_over_the_limit_makes_its_cable_due_at_once_and_taking_it_back_ends_that(bench_hand, on):
    mat = make_mat(fitted=True)
    segment = segments_of(mat)[0]
    (reading,) = keep(mat, [TypedReading(segment, TypedLoss(3.6))], bench_hand, on)
    assert Assessment.objects.get(segment=segment).loss_due_on == MEASURED_ON
    void_reading(Measurement.objects.get(pk=reading.pk), by=bench_hand, on=on, reason="wrong cable")
    assert Assessment.objects.get(segment=segment).loss_due_on is None
    reading = Measurement.objects.get(pk=reading.pk)
    assert (reading.loss_db, reading.voided_on, reading.void_reason) == (3.6, on, "wrong cable")
    trail = reading.history.order_by("history_id").values_list("voided_on", "history_change_reason", "history_user")
    assert list(trail) == [(None, None, bench_hand.pk), (on, "wrong cable", bench_hand.pk)]


def test_a_reading_is_voided_once_and_with_a_reason(bench_hand, on):
    reading = make_reading(make_segment())
    with pytest.raises(ValidationError, match="Say why"):
        void_reading(reading, by=bench_hand, on=on, reason="  ")
    void_reading(reading, by=bench_hand, on=on, reason="wrong cable")
    with pytest.raises(ValidationError, match="void since 30 Sep 2026 already"):
        void_reading(reading, by=bench_hand, on=on, reason="again")


def test_a_doubtful_reading_asks_for_a_new_one_until_the_doubt_is_settled(bench_hand, on):
    mat = make_mat(fitted=True)
    segment = segments_of(mat)[0]
    (reading,) = keep(mat, [TypedReading(segment, TypedLoss(1.3))], bench_hand, on)
    reading = Measurement.objects.get(pk=reading.pk)
    mark_doubtful(reading, by=bench_hand, on=on, reason="loose adapter")
    assert Assessment.objects.get(segment=segment).measure_reason == "doubtful"
    clear_doubt(reading, by=bench_hand, on=on, reason="adapter was tight")
    assert Assessment.objects.get(segment=segment).measure_reason == ""
    reasons = reading.history.order_by("history_id").values_list("doubt_reason", "history_change_reason")
    assert list(reasons) == [("", None), ("loose adapter", "loose adapter"), ("", "adapter was tight")]


@pytest.mark.django_db(transaction=True)
def test_two_people_at_one_mat_both_keep_their_readings(bench_hand, on):
    mat = make_mat(fitted=True)
    segment = segments_of(mat)[0]
    ready, refused = Barrier(4), []

    def measure(loss_db):
        try:
            ready.wait()
            keep(mat, [TypedReading(segment, TypedLoss(loss_db))], bench_hand, on)
        except Exception as error:
            refused.append(error)
        finally:
            connection.close()

    people = [Thread(target=measure, args=[1.0 + n / 10]) for n in range(4)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert refused == []
    assert sorted(Measurement.objects.values_list("repeat", flat=True)) == [1, 2, 3, 4]


def test_rows_stand_in_the_order_of_the_positions_and_an_empty_one_is_shown(on):
    mat, first, third = make_mat(), make_segment(0.65), make_segment(1.6)
    fit(third, mat, 3)
    fit(first, mat, 1)
    make_reading(first, 1.3, on)
    rows = bench_rows(mat, on, criteria_of_design(mat.design_id))
    assert [(row.position, row.segment, row.length_m) for row in rows] == [
        (1, first, 0.65),
        (2, None, 1.1),
        (3, third, 1.6),
        (4, None, 2.1),
    ]
    assert [entry.judgement.verdict for entry in rows[0].that_day] == ["within"]


def test_mats_that_ask_for_a_measurement_stand_first(on):
    done, half, _never = (make_mat(number, fitted=True) for number in ("M-1", "M-3", "M-2"))
    for mat, count in ((done, 4), (half, 2)):
        for segment in segments_of(mat)[:count]:
            make_reading(segment, 1.3, date(2026, 9, 1))
    make_mat("M-0", withdrawn_on=on)
    reassess(None, on=on)
    mats = list(mats_at_bench(on))
    assert [(mat.number, mat.asking, mat.measured_on) for mat in mats] == [
        ("M-2", 4, None),
        ("M-3", 2, date(2026, 9, 1)),
        ("M-1", 0, date(2026, 9, 1)),
    ]


def test_words_at_the_bench_name_a_mat_by_number_or_by_a_cable_in_it(on):
    mat = make_mat("M-017", fitted=True)
    make_mat("M-0171")
    serial = segments_of(mat)[0].serial
    assert specified_mat("m-017", on) == mat
    assert specified_mat(serial.lower(), on) == mat
    assert specified_mat("M-0", on) is None
    assert specified_mat("0171", on).number == "M-0171"
