"""Assessments are stored, kept up with every change, and right on any day that is asked for."""

from datetime import date, timedelta

import pytest
from django.db import transaction
from factories import fit, make_event, make_fault, make_mat, make_reading, make_segment, make_usage_event
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sizes import examples

from fleet.models import Fitting, Mat
from fleet.signals import wear_changed
from inspections.assessment import services
from inspections.models import Assessment, PoolState

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


def stored():
    return {row.segment.serial: plain(row) for row in Assessment.objects.select_related("segment")}


def plain(row):
    return {field.attname: getattr(row, field.attname) for field in Assessment._meta.concrete_fields}


def test_assess_rewrites_every_row_and_drops_what_is_no_longer_fitted():
    mat = make_mat(fitted=True)
    services.assess_pool(ON)
    assert Assessment.objects.count() == 4
    mat.fittings.filter(position=1).update(removed_on=ON)
    assert services.assess_pool(ON) == 3
    assert set(Assessment.objects.values_list("position", flat=True)) == {2, 3, 4}


def test_a_change_assesses_only_the_segments_it_names():
    mat = make_mat(fitted=True)
    services.assess_pool(ON - timedelta(1))
    one = mat.fittings.get(position=1).segment
    make_reading(one, 4.0, ON)
    wear_changed.send(sender=None, segment_ids=[one.pk], on=ON)
    assert list(Assessment.objects.filter(assessed_on=ON).values_list("segment", "verdict")) == [(one.pk, "over")]


def test_a_failure_while_assessing_rolls_the_change_back(monkeypatch):
    segment = make_mat(fitted=True).fittings.get(position=1).segment

    def fail(*args, **kwargs):
        raise RuntimeError("no assessment")

    monkeypatch.setattr(services, "read_known", fail)
    with pytest.raises(RuntimeError), transaction.atomic():
        make_reading(segment, 4.0, ON)
        wear_changed.send(sender=None, segment_ids=[segment.pk], on=ON)
    assert not segment.measurements.exists()


def test_as_days_pass_the_list_stays_right_without_anybodys_doing():
    mat = make_mat(fitted=True, fitted_on=ON - timedelta(3 * 365 + 1) + timedelta(120))
    make_reading(mat.fittings.get(position=1).segment, 1.0, ON)
    services.assess_pool(ON)
    assert Assessment.objects.get(position=1).status == "ok"
    services.ensure_assessed(ON + timedelta(30))
    assert Assessment.objects.get(position=1).status == "change within look-ahead"
    services.ensure_assessed(ON + timedelta(120))
    assert Assessment.objects.get(position=1).status == "change now"


def test_a_pool_that_is_up_to_date_is_not_assessed_again(django_assert_num_queries):
    make_mat(fitted=True)
    services.assess_pool(ON)
    with django_assert_num_queries(1):
        services.ensure_assessed(ON)


def test_a_change_during_a_long_assessment_is_not_overwritten_by_older_answers(monkeypatch):
    segment = make_mat(fitted=True).fittings.get(position=1).segment
    services.assess_pool(ON)
    read, meanwhile = services.read_wear_state, [True]

    def slow(on, segment_ids=None):
        state = read(on, segment_ids)
        if meanwhile and segment_ids is None:
            meanwhile.clear()
            make_reading(segment, 4.0, ON)
            services.reassess([segment.pk], on=ON)
        return state

    monkeypatch.setattr(services, "read_wear_state", slow)
    services.assess_pool(ON)
    assert Assessment.objects.get(segment=segment).verdict == "over"


def test_the_number_of_queries_does_not_grow_with_the_pool(django_assert_num_queries):
    counts = []
    for mats in (1, 3, 20):
        for _ in range(mats):
            make_usage_event(make_mat(fitted=True), make_event(ON - timedelta(9)))
        with django_assert_num_queries(9):
            counts.append(len(services.assessments(ON)))
    assert counts == [4, 16, 96]


def test_the_order_of_the_list_is_by_urgency_event_due_date_and_place():
    """The stored key against a sort of the rows by hand; mat numbers of which one begins with another."""
    for number in ("M-1", "M-10", "M-2", "M 1", "É-7"):
        mat = make_mat(number, fitted=True, fitted_on=ON - timedelta(3 * 365 + 1) + timedelta(len(number) * 30 - 100))
        make_usage_event(mat, make_event(ON + timedelta(90 + 10 * len(number))), "planned")
    make_reading(Fitting.objects.filter(mat__number="M-2").first().segment, 4.0, ON)
    make_fault(Mat.objects.get(number="É-7"), "cable", 2, ON)
    services.assess_pool(ON)
    far = date.max

    def by_hand(row):
        place = (-row.segment.length_m, row.mat.number, row.position)
        graver = {"damage": 1, "loss": 1, "trend": 2, "events": 3, "age": 3}.get(row.cause) if row.urgency == 1 else 0
        return (row.urgency, graver, row.wanted_on or far, row.due_on or far, *place)

    rows = list(Assessment.objects.by_urgency().select_related("mat", "segment"))
    assert rows == sorted(rows, key=by_hand)
    assert len({row.urgency for row in rows}) >= 2
    assert [row.cause for row in rows[:2]] in (["loss", "damage"], ["damage", "loss"])


def test_pool_state_counts_the_changes():
    segment = make_mat(fitted=True).fittings.get(position=1).segment
    services.reassess([segment.pk], on=ON)
    services.reassess([segment.pk], on=ON)
    assert PoolState.objects.get().changes == 2


days = st.integers(0, 700).map(lambda back: ON - timedelta(back))
acts = st.lists(
    st.one_of(
        st.tuples(st.just("usage"), st.integers(0, 2), days, st.sampled_from(["went", "planned", "called off"])),
        st.tuples(st.just("reading"), st.integers(0, 5), days, st.floats(0.2, 5)),
        st.tuples(st.just("fault"), st.integers(0, 2), days, st.integers(1, 4)),
    ),
    max_size=25,
)


@given(acts)
@hypothesis_settings(max_examples=examples(8), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_segments_assessed_one_by_one_agree_with_the_pool_assessed_at_once(acts):
    with transaction.atomic():
        _run(acts)
        transaction.set_rollback(True)


def _run(acts):
    mats = [make_mat(fitted=True, fitted_on=ON - timedelta(500)) for _ in range(3)]
    spare = make_segment()
    fit(spare, mats[0], 5, ON - timedelta(600), removed_on=ON - timedelta(300))
    fit(spare, mats[1], 5, ON - timedelta(200))
    segments = [fitting.segment for mat in mats for fitting in mat.fittings.all()][:6]
    for number, (kind, which, day, value) in enumerate(acts):
        if kind == "usage":
            make_usage_event(mats[which], make_event(day, code=f"P-{number}"), value)
        elif kind == "reading":
            make_reading(segments[which], value, day, repeat=number + 1)
        else:
            make_fault(mats[which], "cable", value, day, number=number + 1)
    whole = {row.segment_id: plain(row) for row in services.assessments(ON)}
    single = {pk: plain(row) for pk in whole for row in services.assessments(ON, [pk])}
    assert single == whole
