"""Reference pieces of the demo pool: read first at one bench, none at the other."""

from datetime import date

import pytest

from inspections.bench.pieces.linked_selectors import unlinked_instruments
from inspections.bench.pieces.selectors import all_pieces, shown_pieces
from inspections.demo.services import fill_demo_pool
from inspections.models import Assessment, BenchDay, Measurement

ON = date(2026, 9, 30)


@pytest.fixture(scope="module")
def demo(shared_rows):
    with shared_rows(lambda: fill_demo_pool(ON)):
        yield


@pytest.mark.django_db
def test_two_pieces_are_kept_at_one_bench_and_the_other_is_not_linked(demo):
    cable, attenuator = sorted(shown_pieces(all_pieces(), ON), key=lambda shown: len(shown.values), reverse=True)
    assert (len(cable.values), len(attenuator.values)) == (2, 1)
    assert {shown.piece.depot.name for shown in (cable, attenuator)} == {"Quay Street"}
    names = [[each.name for each in group] for group in unlinked_instruments(ON).groups]
    assert names == [["bridge Q1"], ["field meter 2"], ["pocket analyser 3"]]


@pytest.mark.django_db
def test_they_are_read_on_each_bench_day_and_what_was_off_was_looked_at(demo):
    for shown in shown_pieces(all_pieces(), ON):
        assert len(shown.readings) > 20
        assert not any(read.stops for read in shown.readings)
        read_on = {read.reading.measured_on for read in shown.readings}
        measured = Measurement.objects.filter(instrument__name="bridge Q1", measured_on__gte=min(read_on))
        assert read_on == set(measured.values_list("measured_on", flat=True))
    reads = [read for shown in shown_pieces(all_pieces(), ON) for read in shown.readings]
    assert any(not read.counts and read.is_beyond for read in reads), "read again after the adapter was tightened"
    assert 0 < sum(read.counts and read.is_beyond for read in reads) < len(reads) / 5


@pytest.mark.django_db
def test_the_shifts_of_its_bench_days_rest_on_them(demo):
    days = BenchDay.objects.filter(instrument__name="bridge Q1", piece_readings=2)
    assert days.count() > 20
    assert Assessment.objects.exists()
