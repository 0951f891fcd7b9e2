"""A run of Start here or a load of files is taken back whole: what goes, what stays, what stands against it."""

import uuid
from datetime import timedelta
from functools import partial

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from factories import fit, make_event, make_fault, make_mat, make_note, make_reading, make_segment, make_usage_event
from page_forms import form_in
from page_words import words_in
from pool_files import pool_files

from fleet.figures import short_day
from fleet.models import CableSegment, CableType, Event, Fitting, Mat, MatDesign, UsageEvent
from fleet.services.designs import correct_design
from fleet.services.mat_days import write_days
from fleet.services.register import correct_mat
from fleet.services.start_here import MatGroup, register_mats
from inspections.deleting.load_selectors import KINDS, taking_back
from inspections.deleting.load_services import take_back
from inspections.files.loading import load_pool_files
from inspections.models import Assessment, BenchDay, Measurement

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def text_of(response):
    return words_in(response.content.decode())


def group(*numbers, on, lengths_m=(0.5, 1.0), **values):
    return MatGroup(2.0, lengths_m, numbers, on - 500 * DAY, "about", times_a_year=12, **values)


@pytest.fixture
def run(keeper, today):
    return register_mats([group("1", "2", on=today)], by=keeper, on=today)


def counts():
    return {model.__name__: model.objects.count() for model in KINDS}


def standing(load):
    return [standing.sentence for standing in taking_back(load).stands]


def page_of(load):
    return f"/files/loads/{load.pk}/take-back/"


def test_a_run_is_taken_back_whole_by_one_act_and_its_numbers_are_free(keeper_client, keeper, run, today):
    page = keeper_client.get(page_of(run))
    for words in ("2 mats", "4 cable segments", "4 fittings", "24 usage events", "1 mat design", "1 cable type"):
        assert words in text_of(page), words
    answer = keeper_client.post(page_of(run), form_in(page) | {"reason": "und is no mat"})
    assert answer.url == f"/files/loads/{run.pk}/"
    assert set(counts().values()) == {0}
    assert not Assessment.objects.exists()
    said = text_of(keeper_client.get(answer.url))
    assert "Taken back by keeper" in said
    assert "2 mats" in said
    assert "Take it back" not in said
    register_mats([group("1", on=today)], by=keeper, on=today)
    assert list(CableSegment.objects.values_list("serial", flat=True)) == ["C-00001", "C-00002"]


def test_the_trail_keeps_what_every_row_said(keeper, run, today):
    mats = {mat.pk: (mat.number, mat.design_id) for mat in Mat.objects.all()}
    entered = dict(Mat.objects.values_list("pk", "recorded_at"))
    take_back(run, by=keeper, on=today, reason="wrong list")
    for kind in ("+", "-"):
        rows = Mat.history.filter(history_type=kind)
        assert {row.id: (row.number, row.design_id) for row in rows} == mats
        assert {row.history_user for row in rows} == {keeper}
    assert dict(Mat.history.filter(history_type="+").values_list("id", "history_date")) == entered
    assert set(Mat.history.filter(history_type="-").values_list("history_change_reason", flat=True)) == {"wrong list"}
    assert Fitting.history.filter(history_type="-").count() == 4
    assert UsageEvent.history.filter(history_type="-").count() == 24


def test_a_row_that_was_corrected_and_put_back_has_its_whole_trail(keeper, run, today):
    mat = Mat.objects.get(number="1")
    correct_mat(mat, by=keeper, on=today, owner="the club")
    assert standing(run) == ["Mat 1: changed since."]
    correct_mat(mat, by=keeper, on=today, owner="")
    assert standing(run) == []
    take_back(run, by=keeper, on=today, reason="wrong")
    assert list(Mat.history.filter(number="1").order_by("history_id").values_list("history_type", flat=True)) == [
        *("+", "~", "~", "-")
    ]


def test_what_others_did_since_stands_against_it_each_with_a_link(keeper_client, keeper, run, today):
    mat, other = Mat.objects.get(number="1"), make_mat("X")
    segment = mat.fittings.get(position=1).segment
    make_reading(segment, 1.31, today - DAY)
    event = make_event(today, code="E-1", name="Hill run")
    write_days([make_usage_event(each, event, state="planned") for each in (mat, Mat.objects.get(number="2"))])
    make_fault(mat, place="cover or fold", position=None, reported_on=today - DAY)
    make_note(mat, "drops on the left")
    fit(make_segment(serial="Z-1"), mat, 9, today - DAY)
    page = keeper_client.get(page_of(run))
    said = text_of(page)
    for words in (
        f"Reading of {segment} on {short_day(today - DAY)}: 1.31 dB.",
        "Event E-1 Hill run.",
        f"Fault of mat 1: cover or fold reported on {short_day(today - DAY)}.",
        "drops on the left.",
        "Z-1 in mat 1 position 9",
    ):
        assert words in said, words
    body = page.content.decode()
    for link in (f"/cables/{segment}/", "/events/E-1/", "/mats/1/"):
        assert f'href="{link}' in body, link
    assert "mat day" not in said.casefold()
    assert "X" not in [standing.sentence for standing in taking_back(run).stands]
    before = counts()
    with pytest.raises(ValidationError, match="this stands against it"):
        take_back(run, by=keeper, on=today, reason="wrong")
    assert counts() == before
    assert other.pk


def test_a_cable_that_came_into_another_mat_stands_against_it(keeper, run, today):
    fitting = Mat.objects.get(number="1").fittings.get(position=1)
    fitting.correct(by=keeper, removed_on=today, removal_reason="moved")
    fit(fitting.segment, make_mat("X"), 1, today)
    assert any("in X position 1" in sentence for sentence in standing(run))


def test_a_work_order_stands_against_it(bench_client, keeper, run, today):
    segments = list(CableSegment.objects.values_list("serial", flat=True))[:1]
    bench_client.post("/work-orders/raise/", {"token": str(uuid.uuid4()), "segments": segments})
    assert any(sentence.startswith("Work order W-") for sentence in standing(run))


def test_what_another_run_uses_by_now_stays_and_is_named(keeper, run, today):
    second = register_mats([group("3", on=today)], by=keeper, on=today)
    look = taking_back(run)
    assert look.stands == ()
    assert look.stays == (
        "Mat design 2 m, 2 cables stays: others use it.",
        "Cable type not known, as 2.5 mm coax stays: others use it.",
    )
    take_back(run, by=keeper, on=today, reason="wrong")
    mat = Mat.objects.get()
    assert (mat.number, mat.load, mat.design.positions.count()) == ("3", second, 2)
    assert Event.objects.count() == mat.usage_events.count() == 12
    # and the second goes without leaving a mat
    take_back(second, by=keeper, on=today, reason="wrong too")
    assert (Mat.objects.count(), UsageEvent.objects.count(), Fitting.objects.count()) == (0, 0, 0)
    assert MatDesign.objects.count() == CableType.objects.count() == 1


def test_a_design_that_was_worked_on_stands_against_it_unless_it_stays(keeper, run, today):
    correct_design(MatDesign.objects.get(), by=keeper, folds_m=[1.0])
    assert standing(run) == ["Design 2 m, 2 cables: changed since."]
    register_mats([group("3", on=today)], by=keeper, on=today)
    assert standing(run) == []


def test_a_load_of_files_is_taken_back_whole_and_can_be_loaded_again(keeper, today):
    empty = counts()
    _, load = load_pool_files(pool_files(), by=keeper, on=today, meant=True)
    full = counts()
    assert BenchDay.objects.exclude(instrument=None).exists()
    take_back(load, by=keeper, on=today, reason="wrong pool")
    assert (counts(), BenchDay.objects.count()) == (empty, 0)
    # a bench day of an instrument that is no more would be refused here
    connection.check_constraints()
    _, again = load_pool_files(pool_files(), by=keeper, on=today, meant=True)
    assert again.pk != load.pk
    assert counts() == full


def test_of_two_loads_the_first_waits_for_the_second(keeper, today):
    """What was stored before this version carries its load too: the same rule holds for it."""
    contents = pool_files()
    later = contents.pop("measurements.csv")
    _, first = load_pool_files(contents, by=keeper, on=today, meant=True)
    _, second = load_pool_files({"measurements.csv": later}, by=keeper, on=today, meant=True)
    assert any(sentence.startswith("Reading of C-1") for sentence in standing(first))
    take_back(second, by=keeper, on=today, reason="wrong")
    assert not Measurement.objects.exists()
    take_back(first, by=keeper, on=today, reason="wrong")
    assert not Mat.objects.exists()


def test_sent_twice_it_acts_once(keeper_client, run):
    form = form_in(keeper_client.get(page_of(run))) | {"reason": "wrong"}
    first, second = keeper_client.post(page_of(run), form), keeper_client.post(page_of(run), form)
    assert first.url == second.url
    assert Mat.history.filter(history_type="-").count() == 2
    other = keeper_client.post(page_of(run), form | {"token": str(uuid.uuid4())}, follow=True)
    assert "It was taken back already." in text_of(other)


def test_the_second_of_two_people_is_told_who_was_first(keeper, run, today):
    take_back(run, by=keeper, on=today, reason="wrong")
    with pytest.raises(ValidationError, match=f"keeper took it back on {short_day(today)} already"):
        take_back(run, by=keeper, on=today, reason="wrong")


def test_what_was_done_after_the_page_was_opened_is_shown_and_nothing_is_lost(keeper_client, run, today):
    form = form_in(keeper_client.get(page_of(run))) | {"reason": "und is no mat"}
    make_note(Mat.objects.get(number="1"), "seen at the river")
    refused = keeper_client.post(page_of(run), form)
    assert refused.status_code == 422
    assert "seen at the river" in text_of(refused)
    assert Mat.objects.count() == 2
    Mat.objects.get(number="1").notes.get().delete()
    Mat.objects.filter(number="2").update(load=None)
    changed = keeper_client.post(page_of(run), form)
    assert changed.status_code == 422
    assert Mat.objects.count() == 2


def test_only_a_keeper_takes_back(bench_client, run):
    assert bench_client.get(page_of(run)).status_code == 403
    assert bench_client.post(page_of(run), {"reason": "x"}).status_code == 403
    assert "Take it back" not in text_of(bench_client.get(f"/files/loads/{run.pk}/"))


def test_the_page_and_the_act_ask_as_many_queries_for_two_mats_as_for_forty(keeper, today):
    def queries(act):
        with CaptureQueriesContext(connection) as asked:
            act()
        return len(asked)

    asked = []
    # the first of all also makes what the assessment keeps
    for numbers in (range(1), range(2), range(40)):
        run = register_mats([group(*map(str, numbers), on=today)], by=keeper, on=today)
        look, act = partial(taking_back, run), partial(take_back, run, by=keeper, on=today, reason="x")
        asked.append((queries(look), queries(act)))
    assert asked[1] == asked[2]


def test_what_stands_against_it_is_named_by_as_many_queries_for_one_row_as_for_five(keeper, today):
    run = register_mats([group(*map(str, range(5)), on=today)], by=keeper, on=today)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            stands = standing(run)
        return len(asked), len(stands)

    def stand_on(mat):
        make_fault(mat)
        make_note(mat)
        make_usage_event(mat, make_event())
        fitting = mat.fittings.get(position=1)
        make_reading(fitting.segment)
        with transaction.atomic():
            fitting.correct(by=keeper, torque_nm=0.5)

    first, *others = Mat.objects.all()
    stand_on(first)
    few = queries()
    for mat in others:
        stand_on(mat)
    assert queries() == (few[0], 5 * few[1])


def test_rows_that_were_changed_and_put_back_are_read_at_once(keeper, today):
    run = register_mats([group(*map(str, range(20)), on=today)], by=keeper, on=today)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert not standing(run)
        return len(asked)

    def change_and_put_back(mat):
        with transaction.atomic():
            mat.correct(by=keeper, owner="the quay")
            mat.correct(by=keeper, owner="")

    first, *others = Mat.objects.all()
    change_and_put_back(first)
    few = queries()
    for mat in others:
        change_and_put_back(mat)
    assert queries() == few


def test_every_row_that_names_its_load_can_go():
    from django.apps import apps

    from fleet.models.trail import Recorded

    recorded = [
        model
        for app in ("fleet", "inspections")
        for model in apps.get_app_config(app).get_models()
        if issubclass(model, Recorded) and not model._meta.abstract
    ]
    assert set(recorded) <= set(KINDS), set(recorded) - set(KINDS)
