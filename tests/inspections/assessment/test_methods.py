"""How a cable was connected, and what a go/no-go tester says, on the way to what is due."""

from datetime import date, timedelta

import pytest
from factories import fit, make_instrument, make_mat, make_reading, make_segment, make_tester
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from sizes import examples

from inspections.assessment.services import assessments
from inspections.assessment.trend_records import fit_records
from inspections.assessment.wear_state import read_wear_state
from inspections.bench.reading_selectors import judged
from inspections.bench.verdicts import criteria_of_design
from inspections.models import Instrument, Measurement
from inspections.numeric.methods import DEFAULT_UNCERTAINTY_DB
from inspections.numeric.words import Clock, InstrumentKind, Method

ON = date(2026, 11, 24)
RECENTLY = ON - timedelta(20)
EARLIER = ON - timedelta(200)

pytestmark = pytest.mark.django_db


@pytest.fixture
def segment():
    segment = make_segment(1.6)
    fit(segment, make_mat(), 1, date(2026, 1, 10))
    return segment


def assess(segment):
    return next(row for row in assessments(ON, [segment.pk]))


def test_a_pocket_analyser_never_turns_a_sound_cable_into_one_over(segment):
    pocket = make_instrument(standard_uncertainty_db=None, kind="one-port")
    make_reading(segment, 3.2, RECENTLY, instrument=pocket, method="far end open")
    row = assess(segment)
    assert (row.loss_db, row.reference_loss_db, row.verdict) == (1.6, 1.6, "within")
    assert row.loss_uncertainty_db == DEFAULT_UNCERTAINTY_DB["one-port"]


@pytest.mark.parametrize("method", ["on its element", "not referenced"])
def test_a_number_that_tells_no_loss_leaves_the_earlier_reading_in_force(segment, method):
    make_reading(segment, 1.4, EARLIER)
    make_reading(segment, 9.0, RECENTLY, method=method)
    row = assess(segment)
    assert (row.measured_on, row.loss_db, row.verdict) == (EARLIER, 1.4, "within")


def test_a_go_no_go_tester_that_says_over_makes_a_cable_due(segment):
    make_reading(segment, 1.4, EARLIER)
    make_reading(segment, go_no_go="over", measured_on=RECENTLY, instrument=make_tester(3.0))
    row = assess(segment)
    assert (row.verdict, row.go_no_go, row.no_signal) == ("over", True, False)
    assert (row.loss_db, row.loss_due_on, row.cause) == (None, RECENTLY, "loss")


def test_a_tester_set_below_the_limit_that_says_over_asks_for_a_number(segment):
    make_reading(segment, go_no_go="over", measured_on=RECENTLY, instrument=make_tester(2.5))
    row = assess(segment)
    assert (row.verdict, row.loss_due_on, row.measure_reason) == ("undecided", None, "undecided")


def test_within_is_a_measurement_and_no_point_of_the_trend(segment):
    make_reading(segment, 1.4, EARLIER)
    make_reading(segment, go_no_go="within", measured_on=RECENTLY, instrument=make_tester(3.0))
    row = assess(segment)
    assert (row.measured_on, row.verdict, row.measured_sound) == (RECENTLY, "within", True)
    records = fit_records(read_wear_state(ON), Clock.YEARS)
    assert records.readings.loss_db.tolist() == [1.4]


class EveryReading(TestCase):
    @settings(max_examples=examples(20), deadline=None)
    @given(
        readings=st.lists(
            st.tuples(
                st.sampled_from(["", *Method]),
                st.sampled_from([None, *InstrumentKind]),
                st.sampled_from([None, 0.05, 0.3]),
                st.one_of(st.none(), st.floats(0, 8), st.sampled_from(["within", "over"])),
            ),
            max_size=6,
        )
    )
    def test_the_reading_alone_and_the_column_of_all_say_the_same(self, readings):
        mat = make_mat()
        for position, (method, kind, own_db, said) in enumerate(readings, 1):
            segment = make_segment(1.6)
            fit(segment, mat, position, date(2026, 1, 10))
            instrument = kind and instrument_of(kind, own_db)
            word = said if isinstance(said, str) else ""
            make_reading(segment, None if word else said, RECENTLY, method=method, instrument=instrument, go_no_go=word)
        rows = {row.segment_id: row for row in assessments(ON)}
        criteria = criteria_of_design(mat.design_id)
        for reading in Measurement.objects.select_related("instrument"):
            one, kept = judged(reading, criteria), rows[reading.segment_id]
            assert (one.verdict, one.go_no_go != "") == (kept.verdict, kept.go_no_go)
            if one.compared and one.reference_loss_db is not None:
                # columns are read to the ninth decimal
                assert one.reference_loss_db == pytest.approx(kept.reference_loss_db, abs=1e-8)
                assert one.uncertainty_db == kept.loss_uncertainty_db


def instrument_of(kind, own_db):
    set_limit_db = 3.0 if kind == InstrumentKind.GO_NO_GO else None
    values = {"kind": kind, "standard_uncertainty_db": own_db, "set_limit_db": set_limit_db}
    return Instrument.objects.create(name=f"{kind.replace('/', ' ')} {own_db} {Instrument.objects.count()}", **values)
