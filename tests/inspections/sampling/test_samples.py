"""A sample: who is drawn, what counts, what it says of the pool, and that anybody can draw it again."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_depot,
    make_event,
    make_instrument,
    make_mat,
    make_piece,
    make_piece_reading,
    make_plain_design,
    make_plain_segment,
    make_reading,
    make_tester,
    make_usage_event,
)

from inspections.assessment.services import assess_pool, reassess
from inspections.bench.pieces.linked_selectors import unlinked_instruments
from inspections.models import Measurement, Sample
from inspections.numeric.sampling import clopper_pearson, hypergeometric_interval
from inspections.sampling.change_selectors import due_changes
from inspections.sampling.frame_selectors import frame_of
from inspections.sampling.result_selectors import found_by
from inspections.sampling.services import draw_sample, drawn_again, end_sample
from inspections.sampling.sheet_selectors import bench_sheet

pytestmark = pytest.mark.django_db


def make_pool(count, positions=2, **values):
    design = make_plain_design(positions)
    return [make_mat(f"M-{number:03d}", design=design, fitted=True, **values) for number in range(1, count + 1)]


def drawn(on, size, seed=5, **values):
    return draw_sample(by=None, on=on, seed=seed, rule="typed", size=size, **values)


def numbers(sample):
    return list(sample.mats.values_list("mat__number", flat=True))


def cables_of(mat):
    return [fitting.segment for fitting in mat.fittings.order_by("position")]


def read_whole(mat, on, losses, **values):
    for segment, loss_db in zip(cables_of(mat), losses, strict=True):
        make_reading(segment, loss_db, on, **{"reason": "sample", **values})


def found(sample, on):
    return found_by([sample], on)[0]


# --- who is drawn


def test_the_same_seed_draws_the_same_mats_again_from_what_is_kept(on):
    make_pool(20)
    sample = drawn(on, 6)
    rows = [mat.frame_row for mat in sample.mats.all()]
    assert drawn_again(Sample.objects.get()) == rows
    assert [sample.frame["mats"][row][0] for row in rows] == numbers(sample)
    other = drawn(on + timedelta(days=1), 6, seed=6, same=0)
    assert numbers(other) != numbers(sample)


def test_a_draw_can_be_repeated_after_mats_went_and_cables_were_changed(on):
    mats = make_pool(12)
    sample = drawn(on, 4)
    type(mats[1]).objects.filter(pk=mats[1].pk).update(withdrawn_on=on, withdrawal_reason="torn")
    assert drawn_again(Sample.objects.get()) == [mat.frame_row for mat in sample.mats.all()]


def test_only_mats_in_use_that_hold_a_cable_are_drawn_from(on):
    (whole, gone), quay = make_pool(2), make_depot("Quay")
    type(gone).objects.filter(pk=gone.pk).update(withdrawn_on=on)
    make_mat("M-900")
    there = make_mat("M-901", fitted=True, depot=quay)
    assert [row.mat for row in frame_of(None, on)] == [whole, there]
    assert [row.mat for row in frame_of(quay, on)] == [there]


def test_mats_that_are_out_are_left_out_only_where_somebody_says_so(on):
    away, home = make_pool(2)
    make_usage_event(away, make_event(on - timedelta(days=1), days=3), state="went")
    assert [row.mat for row in frame_of(None, on)] == [away, home]
    assert [row.mat for row in frame_of(None, on, home_only=True)] == [home]


def test_the_age_of_a_mat_is_that_of_its_oldest_cable(on):
    design = make_plain_design(2)
    ages = {"M-1": 364, "M-2": 366, "M-3": 800, "M-4": 4000}
    for number, days in ages.items():
        mat = make_mat(number, design=design)
        fit(make_plain_segment(), mat, 1, on - timedelta(days=days))
        fit(make_plain_segment(), mat, 2, on - timedelta(days=9))
    guessed = make_mat("M-5", design=design)
    fit(make_plain_segment(), guessed, 1, on - timedelta(days=9), fitted_basis="not later than")
    moved, before = make_plain_segment(), make_mat("M-6", design=design)
    fit(moved, before, 1, on - timedelta(days=900), on - timedelta(days=30))
    fit(moved, make_mat("M-7", design=design), 1, on - timedelta(days=30))
    assert {row.mat.number: row.stratum.value for row in frame_of(None, on)} == {
        "M-1": "under 1 year",
        "M-2": "1 to 2 years",
        "M-3": "2 to 3 years",
        "M-4": "3 years and more",
        "M-5": "not known",
        "M-7": "2 to 3 years",
    }


def test_half_of_the_last_sample_comes_again_and_the_rest_are_new(on):
    make_pool(20)
    first, second = drawn(on - timedelta(days=365), 8), drawn(on, 8, seed=6)
    again = set(numbers(first)) & set(numbers(second))
    assert len(again) == 4
    assert {mat.mat.number for mat in second.mats.filter(again=True)} == again
    third = drawn(on, 8, seed=7, same=0)
    assert not set(numbers(third)) & set(numbers(second))


def test_a_size_by_the_rule_is_that_of_the_table_and_kept_with_it(on):
    """48 mats, fewer than 10 %, 95 %: 5 or more over are found with 21 mats, C(43, 21)/C(48, 21) = 0.0471."""
    make_pool(48, positions=1)
    sample = draw_sample(by=None, on=on, seed=1, rule="this pool", share=0.1, confidence=0.95)
    assert (sample.rule, sample.size, sample.frame_size) == ("this pool", 21, 48)
    assert sample.mats.count() == 21


def test_more_than_there_are_is_all_there_are(on):
    make_pool(3)
    assert draw_sample(by=None, on=on, seed=1, rule="success run", share=0.05, confidence=0.95).size == 3
    assert drawn(on, 9).size == 3


def test_nothing_to_draw_from_is_said(on):
    with pytest.raises(ValidationError, match="nothing to draw from"):
        drawn(on, 3)


def test_numbers_run_through_a_year(on):
    make_pool(2)
    assert [drawn(on, 1).number, drawn(on, 1).number] == [f"S-{on.year}-1", f"S-{on.year}-2"]


def test_a_new_draw_ends_the_one_that_runs_there_and_no_other(on):
    quay = make_depot("Quay")
    make_pool(4, depot=quay)
    of_pool, of_quay = drawn(on - timedelta(days=9), 2), drawn(on - timedelta(days=9), 2, depot=quay)
    drawn(on, 2, depot=quay)
    of_pool.refresh_from_db()
    of_quay.refresh_from_db()
    assert (of_pool.ended_on, of_quay.ended_on) == (None, on - timedelta(days=1))
    assert all(mat.cables_after for mat in of_quay.mats.all())


# --- what counts


def test_mats_and_cables_over_are_counted_once_all_cables_of_a_mat_are_read(on):
    mats = make_pool(3)
    sample = drawn(on - timedelta(days=9), 3)
    read_whole(mats[0], on, (3.9, 1.0))
    read_whole(mats[1], on, (1.0, 1.0))
    make_reading(cables_of(mats[2])[0], 3.9, on, reason="sample")
    result = found(sample, on)
    assert [(mat.verdict, len(mat.read), mat.is_done) for mat in result.mats] == [
        ("over", 2, True),
        ("within", 2, True),
        ("", 1, False),
    ]
    assert (result.of_mats.over, result.of_mats.size) == (1, 2)
    assert (result.of_cables.over, result.of_cables.size) == (1, 4)
    assert result.not_done_with_over == [result.mats[2]]


def test_suspect_readings_stand_beside_and_routine_ones_count(on):
    (mat,) = make_pool(1)
    sample = drawn(on - timedelta(days=9), 1)
    one, two = cables_of(mat)
    make_reading(one, 3.9, on, reason="suspect")
    make_reading(two, 1.0, on, reason="routine")
    result = found(sample, on)
    assert [cable.verdict for cable in result.cables] == ["", "within"]
    assert (result.suspect.over, result.suspect.size) == (1, 1)


def test_only_the_first_day_from_the_draw_to_the_end_counts(on):
    (mat,) = make_pool(1, positions=1)
    sample = drawn(on - timedelta(days=9), 1)
    (cable,) = cables_of(mat)
    make_reading(cable, 9.0, on - timedelta(days=10), reason="sample")
    make_reading(cable, 1.0, on - timedelta(days=5), reason="sample")
    make_reading(cable, 9.0, on - timedelta(days=1), reason="sample")
    assert found(sample, on).mats[0].verdict == "within"


def test_what_is_read_after_the_end_does_not_count(on):
    (mat,) = make_pool(1, positions=1)
    sample = drawn(on - timedelta(days=9), 1)
    end_sample(sample, by=None, on=on - timedelta(days=1))
    make_reading(cables_of(mat)[0], 1.0, on, reason="sample")
    assert not found(sample, on).mats[0].is_done


def test_the_readings_of_a_day_are_one_and_void_or_incomparable_ones_none(on):
    (mat,) = make_pool(1, positions=1)
    sample, (cable,) = drawn(on - timedelta(days=9), 1), cables_of(mat)
    make_reading(cable, 9.0, on - timedelta(days=3), reason="sample", voided_on=on)
    make_reading(cable, 9.0, on - timedelta(days=2), reason="sample", frequency_mhz=500)
    make_reading(cable, 9.0, on, reason="sample", repeat=1)
    make_reading(cable, 1.0, on, reason="sample", repeat=2, taken="after cleaning")
    assert found(sample, on).mats[0].verdict == "within"


def test_a_word_of_a_tester_no_signal_and_half_a_return_loss_count(on):
    (mat,) = make_pool(1, positions=4)
    sample, (one, two, three, four) = drawn(on, 1), cables_of(mat)
    tester = make_tester(3.0)
    make_reading(one, None, on, reason="sample", go_no_go="over", instrument=tester)
    make_reading(two, None, on, reason="sample", go_no_go="within", instrument=tester)
    make_reading(three, None, on, reason="sample", no_signal=True)
    make_reading(four, 3.6, on, reason="sample", method="far end open")
    assert [cable.verdict for cable in found(sample, on).cables] == ["over", "within", "over", "within"]


def test_undecided_ones_are_counted_apart_and_widen_the_interval(on):
    mats = make_pool(4, positions=1)
    sample = drawn(on, 4)
    for mat, loss_db in zip(mats, (3.9, 3.0, 3.05, 1.0), strict=True):
        read_whole(mat, on, (loss_db,))
    result = found(sample, on)
    share = result.of_mats
    assert (share.over, share.undecided, share.most_over, share.size) == (1, 2, 3, 4)
    assert share.interval == clopper_pearson(1, 4, 0.95, 3)
    assert result.number_in_pool == (1, 3)


def test_how_many_of_the_pool_are_over_goes_by_age_as_they_were_drawn(on):
    """Three young mats of which two are read, and nine old ones of which one is: read in that order, the old ones say
    little. As if they were drawn without regard to age it would be 0 to 7 of 12."""
    design = make_plain_design(1)
    for number in range(12):
        mat = make_mat(f"M-{number:02d}", design=design)
        fit(make_plain_segment(), mat, 1, on - timedelta(days=30 if number < 3 else 2000))
    sample = drawn(on, 8)
    young = [row.mat for row in sample.mats.all() if row.stratum == "under 1 year"]
    old = [row.mat for row in sample.mats.all() if row.stratum != "under 1 year"]
    for mat in [*young, old[0]]:
        read_whole(mat, on, (1.0,))
    plain = hypergeometric_interval(0, len(young) + 1, 12)
    by_age = found(sample, on).number_in_pool
    assert (len(young), plain, by_age) == (2, (0, 7), (0, 9))


def test_a_cable_that_was_taken_out_unread_is_not_waited_for(on):
    (mat,) = make_pool(1)
    sample, (one, two) = drawn(on - timedelta(days=9), 1), cables_of(mat)
    mat.fittings.filter(segment=one).update(removed_on=on - timedelta(days=3))
    fit(make_plain_segment(), mat, 1, on - timedelta(days=3))
    make_reading(two, 1.0, on, reason="sample")
    result = found(sample, on)
    assert result.mats[0].is_done
    assert [cable.known["segment"] for cable in result.gone] == [one.pk]


def test_a_mat_that_left_service_unread_is_waited_for_no_more_and_in_no_share(on):
    torn, worn, sound = make_pool(3, positions=1)
    sample = drawn(on - timedelta(days=9), 3)
    for mat, day in ((torn, on), (sound, on)):
        type(mat).objects.filter(pk=mat.pk).update(withdrawn_on=day, withdrawal_reason="torn")
    read_whole(sound, on - timedelta(days=2), (1.0,))
    read_whole(worn, on, (3.9,))
    result = found(sample, on)
    assert [mat.withdrawn_on for mat in result.mats] == [on, None, None]
    assert (result.to_measure, len(result.done)) == (2, 2)
    assert (result.of_mats.over, result.of_mats.size) == (1, 2)
    assert [each.mat for each in bench_sheet(sample, on)] == [worn]


def test_a_mat_withdrawn_after_the_end_was_simply_not_measured(on):
    (mat,) = make_pool(1, positions=1)
    sample = drawn(on - timedelta(days=9), 1)
    end_sample(sample, by=None, on=on - timedelta(days=2))
    type(mat).objects.filter(pk=mat.pk).update(withdrawn_on=on, withdrawal_reason="torn")
    assert found(sample, on).withdrawn == []


def test_lengths_are_told_apart(on):
    mat = make_mat("M-1", fitted=True)
    sample = drawn(on, 1)
    read_whole(mat, on, (1.0, 1.0, 3.9, 3.9))
    assert [(metres, share.over, share.size) for metres, share in found(sample, on).by_length] == [
        (0, 0, 1),
        (1, 1, 2),
        (2, 1, 1),
    ]


# --- what it changed


def test_it_names_cables_that_came_on_the_due_list(on):
    mats = make_pool(2, fitted_on=on - timedelta(days=100))
    assess_pool(on)
    sample = drawn(on, 2)
    read_whole(mats[0], on, (3.9, 1.0))
    reassess([cable.pk for cable in cables_of(mats[0])], on=on)
    (change,) = due_changes(found(sample, on))
    assert (change.mat, change.now["status"], change.now["cause"]) == (mats[0], "change now", "loss")
    assert change.was["status"] not in ("", "change now", "change before", "change within look-ahead")


def test_after_its_end_the_end_is_compared_whatever_comes_later(on):
    (mat,) = make_pool(1, positions=1, fitted_on=on - timedelta(days=100))
    assess_pool(on)
    sample = drawn(on - timedelta(days=2), 1)
    read_whole(mat, on - timedelta(days=1), (3.9,))
    assess_pool(on)
    end_sample(sample, by=None, on=on)
    Measurement.objects.update(loss_db=1.0)
    assess_pool(on)
    assert [change.now["cause"] for change in due_changes(found(sample, on))] == ["loss"]


def test_ten_samples_ask_no_more_than_one(on):
    make_pool(6)
    samples = [drawn(on - timedelta(days=10 * number), 3, seed=number) for number in range(9, -1, -1)]

    def asked(rows):
        with CaptureQueriesContext(connection) as queries:
            found_by(rows, on)
        return len(queries)

    assert asked(samples) == asked(samples[:1])


# --- with what it was read


def read_with(on, *instruments):
    """A sample of as many mats as instruments, each mat read with one."""
    mats = make_pool(len(instruments), positions=1)
    sample = drawn(on, len(mats))
    for mat, instrument in zip(mats, instruments, strict=True):
        read_whole(mat, on, (1.0,), instrument=instrument)
    return found(sample, on)


def read_piece(on, name, *instruments):
    piece = make_piece(name)
    for instrument in instruments:
        make_piece_reading(piece, measured_on=on, instrument=instrument)


def unlinked(found, on):
    """Names of the instruments behind its shares that nothing links, a list a group."""
    whole = unlinked_instruments(on)
    named = whole and whole.among(found.instruments)
    return [[instrument.name for instrument in group] for group in named.groups] if named else []


def test_instruments_that_no_reference_piece_links_are_named(on):
    one, two = make_instrument("bridge"), make_instrument("meter")
    result = read_with(on, one, two)
    assert unlinked(result, on) == [["bridge"], ["meter"]]
    read_piece(on, "P-1", one)
    assert unlinked(result, on) == [["bridge"], ["meter"]]
    read_piece(on, "P-2", one, two)
    assert unlinked(result, on) == []


def test_a_chain_of_pieces_links_them_and_one_instrument_needs_none(on):
    one, two, three = (make_instrument(name) for name in ("bridge", "meter", "pocket"))
    result = read_with(on, one, three)
    read_piece(on, "P-1", one, two)
    read_piece(on, "P-2", two, three)
    assert unlinked(result, on) == []


def test_one_instrument_needs_no_piece(on):
    bridge = make_instrument("bridge")
    assert unlinked(read_with(on, bridge, bridge), on) == []


def test_a_mat_of_a_sample_is_not_deleted(on):
    from inspections.deleting.selectors import deletion_of_mat

    (mat,) = make_pool(1)
    sample = drawn(on, 1)
    assert (
        f"It was drawn into sample {sample}, which stays. Withdraw the mat instead." in deletion_of_mat(mat, on).stands
    )
