"""Columns read and written whole hold what the rows hold, on every database."""

from datetime import date

import numpy as np
import pytest
from django.db.models import Q
from factories import fit, make_design, make_event, make_mat, make_reading, make_segment, make_usage_event
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sizes import examples

from fleet.models import CableSegment, Fitting, Mat
from inspections.assessment import services
from inspections.assessment.columns import BETWEEN_WORDS, columns, day, number, whole, word, yes
from inspections.assessment.pool_fits import stored_fit
from inspections.models import Assessment, Measurement

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


@pytest.fixture
def segments():
    first, second = make_segment(serial="C-1", length_m=2.64), make_segment(serial="C-2", length_m=0.6)
    CableSegment.objects.filter(pk=second.pk).update(as_new_loss_db=0.871, events_before=12)
    return first, second


def test_every_kind_of_column_tells_what_the_rows_tell(segments):
    read = columns(
        CableSegment.objects.all(),
        key=whole("pk"),
        before=whole("events_before"),
        length_m=number("length_m"),
        as_new_db=number("as_new_loss_db"),
        serial=word("serial"),
        short=yes(Q(length_m__lt=1)),
    )
    at = np.argsort(read["key"])
    assert read["key"][at].tolist() == [segment.pk for segment in segments]
    assert read["before"][at].tolist() == [0, 12]
    assert read["length_m"][at].tolist() == [2.64, 0.6]
    assert np.isnan(read["as_new_db"][at][0]) and read["as_new_db"][at][1] == 0.871
    assert read["serial"][at].tolist() == ["C-1", "C-2"]
    assert read["short"][at].tolist() == [False, True]


def test_days_are_days_and_no_day_is_none(segments):
    mat = make_mat("M-1", design=make_design())
    fit(segments[0], mat, 1, date(1969, 12, 31), removed_on=date(2024, 2, 29))
    fit(segments[1], mat, 1, date(2024, 2, 29))
    read = columns(
        Fitting.objects.all(), on=day("fitted_on"), off=day("removed_on"), withdrawn=day("mat__withdrawn_on")
    )
    assert sorted(read["on"].tolist()) == [date(1969, 12, 31), date(2024, 2, 29)]
    assert [None if np.isnat(d) else d.item() for d in read["off"][np.argsort(read["on"])]] == [date(2024, 2, 29), None]
    assert np.isnat(read["withdrawn"]).all()


def test_no_rows_are_columns_without_values():
    read = columns(Mat.objects.none(), key=whole("pk"), width=number("design__width_m"), number=word("number"))
    assert [len(column) for column in read.values()] == [0, 0, 0]
    read = columns(Mat.objects.all(), made=day("withdrawn_on"), lent=yes(Q(owner="")))
    assert [column.dtype.kind for column in read.values()] == ["M", "b"]


@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(losses=st.lists(st.decimals(0, 200, places=9, allow_nan=False), min_size=1, max_size=8))
def test_a_number_of_nine_decimals_comes_back_as_it_was_stored(segments, losses):
    Measurement.objects.all().delete()
    for repeat, loss_db in enumerate(losses, 1):
        make_reading(segments[0], float(loss_db), ON, repeat=repeat)
    read = columns(Measurement.objects.all(), repeat=whole("repeat"), loss_db=number("loss_db"))
    assert read["loss_db"][np.argsort(read["repeat"])].tolist() == list(map(float, losses))


def test_a_number_beyond_all_measure_is_cut_off_and_stops_nothing(segments):
    CableSegment.objects.filter(pk=segments[0].pk).update(length_m=1e300)
    assert columns(CableSegment.objects.all(), length_m=number("length_m"))["length_m"].max() >= 9e9


def test_a_word_that_would_shift_its_column_is_refused(segments):
    CableSegment.objects.filter(pk=segments[0].pk).update(serial=f"C{BETWEEN_WORDS}1")
    with pytest.raises(ValueError, match="different lengths"):
        columns(CableSegment.objects.all(), key=whole("pk"), serial=word("serial"))


def test_rows_written_as_columns_are_those_that_models_would_write():
    mat = make_mat("M-1", fitted=True)
    one, two, *_ = [fitting.segment for fitting in mat.fittings.order_by("position")]
    make_reading(one, 4.0, ON)
    make_reading(two, 1.0, date(2026, 3, 1))
    make_usage_event(mat, make_event(date(2026, 10, 10)), state="planned")
    services.assess_pool(ON)
    expected = services.assessments(ON, fitted=stored_fit())
    written = list(Assessment.objects.order_by("segment"))
    assert [values(row) for row in written] == [values(row) for row in expected]
    empty = {name for row in written for name, value in values(row).items() if value is None}
    assert {"loss_due_on", "loss_db", "trend_expected_on", "before_event_id"} <= empty
    assert written[0].before_event and written[0].loss_due_on == ON


def values(row):
    return {field.attname: getattr(row, field.attname) for field in Assessment._meta.concrete_fields}
