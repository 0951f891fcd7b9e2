"""Readings that were typed for the wrong mat go to the right one in one act."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_instrument, make_mat, make_plain_design, make_plain_segment, make_reading
from page_forms import form_in
from page_words import words_in

from fleet.figures import short_day
from inspections.models import Assessment, Measurement

pytestmark = pytest.mark.django_db


def mat_with_cables(number, today, positions=3):
    mat = make_mat(number, design=make_plain_design(positions))
    for position in range(1, positions + 1):
        fit(make_plain_segment(serial=f"C-{number}-{position}"), mat, position, today - timedelta(days=100))
    return mat


@pytest.fixture
def day(today):
    return today - timedelta(days=2)


@pytest.fixture
def wrong(today, day):
    """Mat 6, for which readings of mat 7 were typed: three positions, the first twice."""
    mat = mat_with_cables("6", today)
    bridge = make_instrument("bridge")
    for position, loss_db in ((1, 0.41), (2, 0.52), (3, None)):
        make_reading(cable(mat, position), loss_db, day, instrument=bridge, measured_by="ida", note="dry")
    make_reading(cable(mat, 1), 0.43, day, repeat=2, instrument=bridge, doubt_reason="loose lead")
    return mat


@pytest.fixture
def right(today):
    return mat_with_cables("7", today)


def cable(mat, position):
    return mat.fittings.get(position=position, removed_on=None).segment


def page_of(day, to="7"):
    return f"/bench/6/move/?readings={day}&to={to}"


def moved(client, page, **typed):
    return client.post(page, form_in(client.get(page)) | typed, follow=True)


def text_of(answer):
    return words_in(answer.content.decode())


def readings_in(mat):
    rows = Measurement.objects.filter(segment__fittings__mat=mat).order_by("segment__fittings__position", "repeat")
    return [(row.segment.serial, row.repeat, row.loss_db, row.voided_on is None) for row in rows]


def test_the_pairs_stand_on_the_page_with_their_values_before_anything_is_saved(bench_client, wrong, right, day):
    text = text_of(bench_client.get(page_of(day)))
    assert "Move these readings from mat 6 to mat 7?" in text
    assert "1 0.41 as found, bridge C-6-1 C-7-1 1 0.43 as found, repeat 2, bridge C-6-1 C-7-1" in text
    assert "3 no signal as found, bridge C-6-3 C-7-3" in text
    assert readings_in(right) == []


def test_one_act_moves_them_all(bench_client, wrong, right, day, today):
    answer = moved(bench_client, page_of(day), reason="typed for the wrong mat")
    assert "4 readings moved from mat 6 to mat 7." in text_of(answer)
    assert [valid for *_, valid in readings_in(wrong)] == [False] * 4
    assert readings_in(right) == [
        ("C-7-1", 1, 0.41, True),
        ("C-7-1", 2, 0.43, True),
        ("C-7-2", 1, 0.52, True),
        ("C-7-3", 1, None, True),
    ]
    old = Measurement.objects.filter(segment=cable(wrong, 1)).first()
    assert (old.voided_on, old.void_reason) == (today, "typed for the wrong mat")
    assert old.history.latest().history_user.username == "hand"
    new = Measurement.objects.get(segment=cable(right, 1), repeat=2)
    assert (new.measured_on, new.instrument.name, new.doubt_reason) == (day, "bridge", "loose lead")
    assert Measurement.objects.get(segment=cable(right, 2)).note == "dry; typed for mat 6 position 2 first"


def test_what_is_due_follows_for_the_cables_of_both(bench_client, wrong, right, day):
    bench_client.get("/")
    assert Assessment.objects.get(segment=cable(wrong, 3)).status == "change now"
    moved(bench_client, page_of(day))
    assert Assessment.objects.get(segment=cable(wrong, 3)).status == "ok"
    assert Assessment.objects.get(segment=cable(right, 3)).status == "change now"


def test_only_the_readings_of_one_instrument_may_be_the_wrong_ones(bench_client, wrong, right, day):
    meter = make_instrument("meter")
    make_reading(cable(wrong, 2), 0.9, day, repeat=2, instrument=meter)
    choices = text_of(bench_client.get("/bench/6/move/"))
    assert "5 readings" in choices and "1 reading, meter" in choices and "4 readings, bridge" in choices
    moved(bench_client, f"/bench/6/move/?readings={day}.{meter.pk}&to=7")
    assert readings_in(right) == [("C-7-2", 2, 0.9, True)]
    assert sum(valid for *_, valid in readings_in(wrong)) == 4


def test_a_reading_at_fitting_is_so_only_on_the_day_of_fitting(bench_client, wrong, right, day):
    wrong.fittings.filter(position=1).update(fitted_on=day)
    right.fittings.filter(position=2).update(fitted_on=day)
    Measurement.objects.filter(segment=cable(wrong, 1), repeat=1).update(taken="at fitting")
    moved(bench_client, page_of(day))
    taken = Measurement.objects.filter(segment__in=[cable(right, 1), cable(right, 2)], repeat=1)
    assert list(taken.order_by("segment__serial").values_list("taken", flat=True)) == ["as found", "at fitting"]


@pytest.mark.parametrize("post", [False, True])
def test_all_are_refused_where_one_has_no_place(bench_client, wrong, right, day, post):
    right.fittings.filter(position=2).update(removed_on=day, removal_reason="worn")
    make_reading(cable(right, 3), 1.0, day)
    page = page_of(day)
    answer = bench_client.post(page, {"reason": "wrong mat"}) if post else bench_client.get(page)
    text = text_of(answer)
    assert f"Position 2 of mat 7 held no cable on {short_day(day)}." in text
    assert f"Position 3 of mat 7 has a reading of {short_day(day)} with repeat 1 already." in text
    assert "Move them to mat 7" not in text
    assert all(valid for *_, valid in readings_in(wrong))


def test_what_was_moved_by_mistake_moves_back(bench_client, wrong, right, day):
    moved(bench_client, page_of(day))
    moved(bench_client, f"/bench/7/move/?readings={day}&to=6")
    assert [row for row in readings_in(wrong) if row[-1]] == [
        ("C-6-1", 3, 0.41, True),
        ("C-6-1", 4, 0.43, True),
        ("C-6-2", 2, 0.52, True),
        ("C-6-3", 2, None, True),
    ]


def test_sent_twice_it_acts_once(bench_client, wrong, right, day):
    sent = form_in(bench_client.get(page_of(day)))
    assert [bench_client.post(page_of(day), sent).status_code for _ in range(2)] == [302, 302]
    assert len(readings_in(right)) == 4


def test_a_page_that_is_not_what_there_is_now_changes_nothing_and_can_be_sent_again(bench_client, wrong, right, day):
    sent = form_in(bench_client.get(page_of(day)))
    Measurement.objects.filter(segment=cable(wrong, 1), repeat=1).update(loss_db=0.5, version=2)
    late = bench_client.post(page_of(day), sent)
    assert late.status_code == 422
    assert "Somebody else changed this meanwhile." in text_of(late) and "1 0.50 as found" in text_of(late)
    assert readings_in(right) == []
    assert bench_client.post(page_of(day), form_in(late)).status_code == 302
    assert len(readings_in(right)) == 4


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("to=7", "Choose the readings."),
        ("readings=2001-01-01&to=7", "These readings do not count any more"),
        ("to=none-such", "There is no mat none-such in the register."),
        ("to=6", "They are readings of this mat already."),
    ],
)
def test_what_cannot_be_asked_is_said_at_its_field(bench_client, wrong, asked, says):
    answer = bench_client.get(f"/bench/6/move/?{asked}")
    assert says in text_of(answer)


def test_no_reason_is_refused(bench_client, wrong, right, day):
    assert "Fill in this field." in text_of(moved(bench_client, page_of(day), reason=""))
    assert readings_in(right) == []


def test_the_way_there_is_on_the_mat_and_at_the_bench(bench_client, visitor_client, wrong):
    for place in ("/mats/6/", "/bench/6/"):
        assert 'href="/bench/6/move/"' in bench_client.get(place).content.decode()
    assert "/move/" not in visitor_client.get("/mats/6/").content.decode()
    assert visitor_client.get("/bench/6/move/").status_code == 403


def test_queries_do_not_grow_with_the_readings(bench_client, today, day):
    counts = []
    bench_client.get("/")
    for number, positions in (("6", 2), ("8", 6)):
        mat, other = mat_with_cables(number, today, positions), mat_with_cables(f"{number}0", today, positions)
        for position in range(1, positions + 1):
            make_reading(cable(mat, position), 0.5, day, instrument=make_instrument())
        page = f"/bench/{number}/move/?readings={day}&to={other.number}"
        sent = form_in(bench_client.get(page))
        with CaptureQueriesContext(connection) as queries:
            assert bench_client.post(page, sent).status_code == 302
        counts.append(len(queries))
    assert counts[0] == counts[1]
