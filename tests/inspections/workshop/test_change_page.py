"""The page on which the cables of a mat are changed: few inputs, nothing typed is lost, nothing is done twice."""

from datetime import timedelta

import pytest
from conftest import signed_in
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import (
    fit,
    make_due_mat,
    make_fault,
    make_instrument,
    make_plain_design,
    make_plain_mat,
    make_plain_segment,
    make_segment,
)
from page_forms import form_in

from fleet.models import CableSegment, CableType, Fault, Fitting
from fleet.models.segments import ASSUMED_CABLE
from inspections.assessment.services import assess_pool
from inspections.models import Assessment, Measurement
from inspections.numeric.words import DUE

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    """All of its eight cables are due by age."""
    return make_due_mat(8, today)


PAGE = "/mats/M-1/change/"


def sent(client, **typed):
    return client.post(PAGE, form_in(client.get(PAGE)) | named(typed))


def named(typed):
    return {name.replace("_", "-", 1) if name.split("_")[0] in KINDS else name: value for name, value in typed.items()}


KINDS = {"all", "change", "new", "loss", "old", "kept", "why", "torque", "end", "lot", "remark"}


def serials(mat):
    held = mat.fittings.filter(removed_on=None).order_by("position")
    return list(held.values_list("segment__serial", flat=True))


def words(answer):
    return answer.content.decode()


def test_eight_due_cables_take_a_word_for_all_and_eight_losses(mat, bench_client, today):
    losses = {f"loss_{number}": "0.7" for number in range(1, 9)}
    answer = sent(bench_client, all_new="new", **losses)
    assert answer.status_code == 302
    new = Fitting.objects.filter(mat=mat, removed_on=None).select_related("segment")
    assert {(row.fitted_on, row.segment.serial_basis, row.ended is not None) for row in new} == {(today, "given", True)}
    assert Measurement.objects.filter(segment__in=new.values("segment"), taken="at fitting").count() == 8
    gone = mat.fittings.filter(removed_on=today).select_related("segment")
    assert all("years old" in row.removal_reason and row.segment.withdrawn_on == today for row in gone)
    assert not Assessment.objects.filter(mat=mat).of_status(*DUE).exists()


def test_a_row_says_what_differs_from_what_is_said_for_all(mat, bench_client):
    spare = make_plain_segment(serial="S-9")
    typed = {"all_new": "new", "all_torque": "0,9", "new_2": "s-9", "torque_2": "1.1", "end_2": "read"}
    assert sent(bench_client, **typed, all_remark="clamps checked").status_code == 302
    second, third = (mat.fittings.get(position=number, removed_on=None) for number in (2, 3))
    assert (second.segment, second.torque_nm, second.end_test) == (spare, 1.1, "read")
    assert (third.torque_nm, third.end_test, third.remark) == (0.9, "", "clamps checked")


def test_a_position_that_is_not_ticked_stays_as_it_is_whatever_stands_in_its_row(mat, bench_client):
    before = serials(mat)
    form = form_in(bench_client.get(PAGE)) | {"all-new": "new", "loss-1": "0.7"}
    for number in range(1, 8):
        del form[f"change-{number}"]
    assert bench_client.post(PAGE, form).status_code == 302
    assert serials(mat)[:7] == before[:7] and serials(mat)[7] != before[7]


def test_what_was_typed_survives_every_refusal_and_nothing_is_stored(mat, bench_client):
    before = serials(mat)
    typed = {
        "all-new": "new",
        "loss-1": "nonsense",
        "old-2": "3,4",
        "remark-3": "<b>",
        "why-4": "burnt",
        "new-5": "x|y",
    }
    answer = bench_client.post(PAGE, form_in(bench_client.get(PAGE)) | typed)
    kept = form_in(answer)
    assert answer.status_code == 422
    assert {name: kept[name] for name in typed} == typed
    assert serials(mat) == before and not Measurement.objects.exists()


def test_losses_written_one_after_the_other_go_to_the_ticked_positions_in_order(mat, bench_client):
    losses = "0.71 0,72; 0.73 dB, 0.74 -  0.76 0.77 0.78"
    assert sent(bench_client, all_new="new", all_loss=losses, loss_2="0.9").status_code == 302
    read = dict(Measurement.objects.values_list("segment__fittings__position", "loss_db"))
    assert read == {1: 0.71, 2: 0.9, 3: 0.73, 4: 0.74, 6: 0.76, 7: 0.77, 8: 0.78}


def test_too_few_of_them_are_refused_and_those_of_a_refused_form_stand_at_their_positions(mat, bench_client):
    answer = sent(bench_client, all_new="new", all_loss="0.7 0.8", new_8="none")
    assert answer.status_code == 422
    assert "2 readings for 7 cables (position 1, 2, 3, 4, 5, 6, 7)" in words(answer)
    assert form_in(answer)["all-loss"] == "0.7 0.8"
    answer = sent(bench_client, all_new="new", all_loss="2.0 0.7 0.7 0.7 0.7 0.7 no 0.7", all_old="4 " * 8)
    form = form_in(answer)
    assert answer.status_code == 422
    assert [form[f"loss-{number}"] for number in (1, 2, 7)] == ["2", "0.7", "no"]
    assert (form["old-8"], form["all-loss"], form["all-old"]) == ("4", "", "")


def test_why_the_old_ones_come_out_is_said_for_all_or_of_one(mat, bench_client):
    assert sent(bench_client, all_new="new", all_why="soaked", why_2="crushed").status_code == 302
    reasons = dict(mat.fittings.exclude(removed_on=None).values_list("position", "removal_reason"))
    assert (reasons[1], reasons[2], reasons[3]) == ("soaked", "crushed", "soaked")


def test_a_ticked_position_says_what_goes_in(mat, bench_client):
    answer = sent(bench_client)
    assert answer.status_code == 422
    assert words(answer).count("Say which cable goes in") >= 8


def test_a_bad_new_cable_stops_its_row_with_the_ways_out(mat, bench_client):
    answer = sent(bench_client, all_new="new", loss_1="2.0")
    assert answer.status_code == 422
    assert "Clean and measure again, take another cable" in words(answer)
    assert "It reads more than a fresh one" in words(answer)
    assert "kept-1" not in form_in(answer)
    refused = bench_client.post(PAGE, form_in(answer) | {"kept-1": "only one left"})
    assert refused.status_code == 422 and "Only a keeper keeps such a cable" in words(refused)


def test_a_keeper_keeps_it_with_a_reason(mat, keeper_client):
    answer = sent(keeper_client, all_new="new", loss_1="2.0")
    kept = keeper_client.post(PAGE, form_in(answer) | {"kept-1": "only one left"})
    assert kept.status_code == 302
    assert Measurement.objects.get().note == "kept: only one left"


def test_measured_again_it_goes_in(mat, bench_client):
    answer = sent(bench_client, all_new="new", loss_1="2.0")
    assert bench_client.post(PAGE, form_in(answer) | {"loss-1": "0.7"}).status_code == 302
    assert Measurement.objects.get().loss_db == 0.7


def test_what_is_unusual_is_asked_and_done_with_the_tick(mat, bench_client):
    kind = mat.design.positions.first().cable_type
    other = make_plain_mat(mat.design)
    moves = make_segment(2.0, "S-2", cable_type=kind)
    fit(moves, other, 3)
    answer = sent(bench_client, all_new="new", new_1="S-2", new_2="N-10")
    assert answer.status_code == 422
    assert "S-2 is in" in words(answer) and "no cable N-10" in words(answer)
    answer = bench_client.post(PAGE, form_in(answer) | {"confirmed": tick_of(answer)})
    assert answer.status_code == 422 and "S-2 is 2.00 m long" in words(answer)
    assert bench_client.post(PAGE, form_in(answer) | {"confirmed": tick_of(answer)}).status_code == 302
    assert serials(mat)[:2] == ["S-2", "N-10"]
    assert other.fittings.get().removed_on is not None


def test_a_torque_that_the_cable_is_not_made_for_is_asked_about(mat, bench_client):
    CableType.objects.update(torque_min_nm=0.8, torque_max_nm=1.1)
    answer = sent(bench_client, all_new="new", all_torque="0.9", torque_2="2")
    assert "Position 2: 2 N·m is outside the 0.8 to 1.1 N·m of alike." in words(answer)
    assert words(answer).count("is outside the") == 1
    assert bench_client.post(PAGE, form_in(answer) | {"confirmed": tick_of(answer)}).status_code == 302


def tick_of(answer):
    return words(answer).partition('name="confirmed" value="')[2].partition('"')[0]


def test_sent_twice_it_acts_once(mat, bench_client):
    form = form_in(bench_client.get(PAGE)) | {"all-new": "new"}
    first, second = bench_client.post(PAGE, form), bench_client.post(PAGE, form)
    assert (first.status_code, first.url) == (second.status_code, second.url)
    assert CableSegment.objects.count() == 16


def test_who_comes_too_late_is_told_and_changes_nothing_until_it_is_sent_knowingly(mat, bench_client, keeper_client):
    late = form_in(bench_client.get(PAGE)) | {"all-new": "new"}
    sent(keeper_client, all_new="new")
    now = serials(mat)
    answer = bench_client.post(PAGE, late)
    assert answer.status_code == 422
    assert f"Somebody else changed position 1 while you were typing: it holds {now[0]} now" in words(answer)
    assert serials(mat) == now and form_in(answer)["all-new"] == "new"


def test_bad_input_is_refused_in_a_sentence_and_stores_nothing(mat, bench_client, today):
    before, stored = serials(mat), CableSegment.objects.count()
    make_plain_segment(serial="GONE", withdrawn_on=today)
    page = form_in(bench_client.get(PAGE)) | {"all-new": "new"}
    long = "9" * 10_000
    for typed, said in (
        ({"new-1": long, "loss-1": "0.7"}, "60 characters"),
        ({"all-loss": "0.7 " * 9_000}, "2000 characters"),
        ({"all-loss": "\x00"}, "Null characters"),
        (
            {"loss-1": long, "old-1": long, "remark-1": long, "lot-2": long, "why-3": long, "kept-4": long},
            "200 characters",
        ),
        ({"torque-1": long, "frequency_mhz": long, "changed_on": long, "measured_by": long}, "Write a day"),
        ({"new-1": "A\x00B", "loss-1": "0.7"}, "Take out character 2"),
        ({"remark-1": "a\x07b", "new-2": "a/b", "loss-2": "0.7"}, "U+0007"),
        ({"new-1": "S-1", "new-2": "s-1"}, "s-1 is named for position 1 already"),
        ({"new-1": "GONE"}, "withdrawn on"),
        ({"new-1": before[1], "change-2": ""}, "Position 1"),
        (
            {"all-new": "all", "end-1": "perhaps", "goes": "sold", "basis": "never"},
            "Choose one of the values that are offered",
        ),
        ({"faults": "99999999999999999999", "instrument": long}, "Faults that this answers"),
        ({"seen-1": "", "token": "x"}, "Somebody else changed position 1"),
    ):
        answer = bench_client.post(PAGE, page | typed)
        assert answer.status_code == 422 and said in words(answer), typed
        assert bench_client.post(f"{PAGE}verdicts/", page | typed).status_code == 200
    assert serials(mat) == before and CableSegment.objects.count() == stored + 1


def test_what_was_typed_for_a_position_that_the_design_lost_meanwhile_is_said(mat, bench_client):
    page = form_in(bench_client.get(PAGE)) | {"all-new": "new", "new-8": "S-8", "loss-8": "0.9"}
    mat.fittings.filter(position=8).delete()
    mat.design.positions.filter(number=8).delete()
    answer = bench_client.post(PAGE, page)
    assert answer.status_code == 422
    assert "M-1 has no position 8 any more. You wrote there: S-8, 0.9." in words(answer)
    assert bench_client.post(PAGE, form_in(answer)).status_code == 302


def test_a_mat_without_positions_or_out_of_use_says_what_to_do_first(mat, bench_client, today):
    page = form_in(bench_client.get(PAGE)) | {"all-new": "new"}
    type(mat).objects.filter(pk=mat.pk).update(withdrawn_on=today)
    assert "Take it back into use first" in words(bench_client.get(PAGE))
    assert "was withdrawn on" in words(bench_client.post(PAGE, page))
    make_plain_mat(make_plain_design(0), number="M-0")
    assert "Its design has no positions yet" in words(bench_client.get("/mats/M-0/change/"))


def test_the_instrument_and_the_name_are_remembered_for_the_next_mat_but_no_day(mat, bench_client, today):
    bridge = make_instrument("bridge")
    then = today.replace(year=today.year - 1, day=1).isoformat()
    typed = {"changed_on": then, "instrument": str(bridge.pk), "measured_by": "Wren"}
    assert sent(bench_client, all_new="new", **typed).status_code == 302
    form = form_in(bench_client.get(PAGE))
    assert (form["instrument"], form["measured_by"], form["changed_on"]) == (str(bridge.pk), "Wren", today.isoformat())


def test_none_leaves_a_position_empty(mat, bench_client):
    assert sent(bench_client, all_new="new", new_8="none").status_code == 302
    assert len(serials(mat)) == 7


def test_a_day_in_the_past_may_be_rough(mat, bench_client, today):
    then = today.replace(year=today.year - 1, day=1)
    assert sent(bench_client, all_new="new", changed_on=then.isoformat(), basis="about").status_code == 302
    row = mat.fittings.get(position=1, removed_on=None)
    assert (row.fitted_on, row.fitted_basis) == (then, "about")


def test_other_faults_of_the_mat_end_where_they_are_ticked(mat, bench_client, today):
    fault = make_fault(mat, "one of the cables", None, today)
    make_fault(mat, "cover or fold", None, today, number=2)
    before = {"changed_on": (today - timedelta(days=1)).isoformat(), "faults": str(fault.pk)}
    assert "is later than the day of the change: untick it" in words(sent(bench_client, all_new="new", **before))
    assert sent(bench_client, all_new="new", faults=str(fault.pk)).status_code == 302
    assert list(Fault.objects.filter(ended_on=None).values_list("place", flat=True)) == ["cover or fold"]


def test_verdicts_come_while_one_types_to_its_row_alone_or_to_all(mat, bench_client):
    form = form_in(bench_client.get(PAGE)) | {"all-new": "new", "loss-3": "0.7"}
    answer = bench_client.post(f"{PAGE}verdicts/", form | {"row": "3"})
    assert answer.status_code == 200 and "A fresh one of its length and type reads about" in words(answer)
    assert words(answer).count("#change-verdict-") == 1
    answer = bench_client.post(f"{PAGE}verdicts/", form | {"all-loss": "0.7 " * 8})
    assert words(answer).count("A fresh one of its length and type reads about") == 8


def test_what_a_fresh_one_reads_is_said_to_be_unknown_of_a_type_that_nobody_named(mat, bench_client):
    CableType.objects.update(name=ASSUMED_CABLE)
    form = form_in(bench_client.get(PAGE)) | {"all-new": "new", "loss-3": "2.0"}
    answer = bench_client.post(f"{PAGE}verdicts/", form)
    assert "What a fresh one reads is not known" in words(answer) and "reads about" not in words(answer)
    assert bench_client.post(PAGE, form).status_code == 302


def test_the_mats_page_leads_there_who_may_change(mat, bench_client, visitor):
    assert PAGE in words(bench_client.get("/mats/M-1/"))
    assert PAGE not in words(signed_in(visitor).get("/mats/M-1/"))


def test_the_page_takes_as_many_queries_for_four_cables_as_for_twelve(bench_client, today):
    for number, positions in (("M-4", 4), ("M-12", 12)):
        make_plain_mat(make_plain_design(positions), number=number, fitted=True)
    assess_pool(today)
    bench_client.get("/mats/M-4/change/")
    counted = []
    for number in ("M-4", "M-12"):
        page = form_in(bench_client.get(f"/mats/{number}/change/"))
        typed = page | {"all-change": "on", "all-new": "new", "all-loss": "0.7 " * int(number[2:])}
        with CaptureQueriesContext(connection) as queries:
            bench_client.get(f"/mats/{number}/change/")
            answer = bench_client.post(f"/mats/{number}/change/verdicts/", typed)
        assert words(answer).count("A fresh one of its length") == int(number[2:])
        counted.append(len(queries))
    assert counted[0] == counted[1]
