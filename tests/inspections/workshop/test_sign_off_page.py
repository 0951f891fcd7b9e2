"""The page on which a work order is told back: the change form of its mat, with a reason for what was left."""

import re

import pytest
from at_once import at_once
from conftest import signed_in
from factories import make_due_mat
from invariants import broken
from page_forms import form_in
from sizes import examples

from fleet.models import Fitting
from inspections.models import Measurement, WorkOrderLine
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    return make_due_mat(3, today)


@pytest.fixture
def order(mat, keeper, today):
    wanted = mat.fittings.filter(position__in=[1, 2]).values_list("segment", flat=True)
    return raise_work_orders(wanted, by=keeper, on=today)[0]


@pytest.fixture
def page(order):
    return f"{order.get_absolute_url()}done/"


def words(answer):
    return answer.content.decode()


def ticks(name):
    """Nameless is the button that sends the form."""
    return bool(name) and name.startswith("change-")


def filled(client, page, left=(), **typed):
    """The form as somebody sends it who takes the tick out where a cable was left."""
    form = form_in(client.get(page)) | {name.replace("_", "-"): value for name, value in typed.items()}
    for number, reason in left:
        form.pop(f"change-{number}")
        form[f"left-{number}"] = reason
    return form


def test_its_cables_are_ticked_and_those_beside_it_are_not(bench_client, page):
    ticked = {name for name in form_in(bench_client.get(page)) if ticks(name)}
    assert ticked == {"change-1", "change-2"}


def test_all_told_at_once_it_is_signed_off(bench_client, page, order, today):
    answer = bench_client.post(page, filled(bench_client, page, all_new="new", all_loss="0.7 0.8"))
    assert (answer.status_code, answer.url) == (302, order.get_absolute_url())
    order.refresh_from_db()
    assert (order.state_on(today), order.signed_by) == ("signed off", "hand")
    assert f"{order} is signed off." in words(bench_client.get(answer.url))


def test_what_was_left_needs_its_reason_and_what_is_neither_stays_to_do(bench_client, page, order, today):
    form = filled(bench_client, page, left=[(1, "no spanner")])
    del form["change-2"]
    assert bench_client.post(page, form).status_code == 302
    assert [(line.left_reason, line.is_open) for line in order.lines.all()] == [("no spanner", False), ("", True)]
    assert "1 cable to do" in words(bench_client.get(page.replace("done/", "")))
    assert bench_client.post(page, filled(bench_client, page, all_new="new")).status_code == 302
    order.refresh_from_db()
    assert order.state_on(today) == "signed off"


def test_done_and_left_at_once_is_asked_and_nothing_typed_is_lost(bench_client, page):
    form = filled(bench_client, page, all_new="new", left_1="no spanner")
    answer = bench_client.post(page, form)
    assert answer.status_code == 422 and "It is ticked as changed" in words(answer)
    assert form_in(answer)["left-1"] == "no spanner"
    assert not Fitting.objects.exclude(removed_on=None).exists()


def test_nothing_said_is_refused(bench_client, page):
    form = filled(bench_client, page)
    del form["change-1"], form["change-2"]
    answer = bench_client.post(page, form)
    assert answer.status_code == 422 and "say why a cable was left" in words(answer)


def test_sent_twice_it_acts_once(bench_client, page):
    form = filled(bench_client, page, all_new="new")
    first, second = bench_client.post(page, form), bench_client.post(page, form)
    assert (first.status_code, first.url) == (second.status_code, second.url)
    assert Fitting.objects.count() == 5


def test_who_comes_too_late_changes_nothing_and_is_told(bench_client, keeper_client, page):
    late = filled(bench_client, page, all_new="new")
    keeper_client.post(page, filled(keeper_client, page, all_new="new"))
    answer = bench_client.post(page, late)
    assert answer.status_code == 422 and "Somebody else changed position 1" in words(answer)
    assert Fitting.objects.count() == 5


def test_left_twice_the_second_is_told(bench_client, keeper_client, page, order):
    late = filled(bench_client, page, left=[(1, "no time"), (2, "no time")])
    keeper_client.post(page, filled(keeper_client, page, left=[(1, "no spanner"), (2, "no spanner")]))
    answer = bench_client.post(page, late)
    assert answer.status_code == 422 and "was signed off on" in words(answer)
    assert set(WorkOrderLine.objects.values_list("left_reason", flat=True)) == {"no spanner"}


def test_told_on_the_page_of_the_mat_it_only_waits_for_a_name(bench_client, page, order, today):
    change = form_in(bench_client.get("/mats/M-1/change/")) | {"all-new": "new"}
    assert bench_client.post("/mats/M-1/change/", change).status_code == 302
    assert "Sign it off" in words(bench_client.get(page))
    form = {name: value for name, value in form_in(bench_client.get(page)).items() if not ticks(name)}
    assert bench_client.post(page, form).status_code == 302
    order.refresh_from_db()
    assert order.state_on(today) == "signed off"


def test_a_signed_order_leads_back_to_its_sheet(bench_client, page, order):
    bench_client.post(page, filled(bench_client, page, all_new="new"))
    assert bench_client.get(page).url == order.get_absolute_url()


def test_who_may_not_work_at_the_bench_is_not_led_there(page, order, visitor):
    assert page not in words(signed_in(visitor).get(order.get_absolute_url()))


def test_the_sheet_shows_what_was_told_and_leaves_room_for_the_rest(bench_client, page, order):
    sheet = page.replace("done/", "")
    form = filled(bench_client, page, all_new="new", loss_1="0.72", torque_1="0.9")
    del form["change-2"]
    bench_client.post(page, form)
    first, second = cells(words(bench_client.get(sheet)))
    new = order.lines.get(position=1).new_segment.serial
    assert first[4:7] == [f"{new}* our number", "0.72", "0.9"]
    assert first[7].startswith("Done ") and first[7].endswith(", hand")
    assert second[4:] == ["", "", "", ""] and "1 × 1.00 m" in words(bench_client.get(sheet))
    assert "1 of 2 told." in words(bench_client.get(sheet))
    bench_client.post(page, filled(bench_client, page, left=[(2, "no spanner")]))
    assert cells(words(bench_client.get(sheet)))[1][7] == "Left: no spanner, hand"
    assert "None: every cable is told." in words(bench_client.get(sheet))


def cells(text):
    rows = re.findall(r'<tr class="(?:even|odd)".*?</tr>', text, re.S)
    bare = [[re.sub("<[^>]+>", "", cell) for cell in re.findall(r"<td.*?</td>", row, re.S)] for row in rows]
    return [[re.sub(r"\s+", " ", cell).strip() for cell in row] for row in bare]


def test_a_keeper_renews_it_with_one_press(keeper_client, bench_client, page, order):
    sheet = page.replace("done/", "")
    assert "Renew it" not in words(bench_client.get(sheet))
    seen = {"row": order.pk, "version": order.version}
    assert f'action="{sheet}renew/"' in words(keeper_client.get(sheet))
    answer = keeper_client.post(f"{sheet}renew/", seen)
    order.refresh_from_db()
    assert answer.url == order.renewed_as.get_absolute_url()
    assert "is renewed as" in words(keeper_client.get(answer.url))
    assert "Tell what was done" not in words(keeper_client.get(sheet))
    assert keeper_client.post(f"{sheet}renew/", seen | {"version": order.version}).url == sheet
    assert "was renewed as" in words(keeper_client.get(sheet))


@pytest.mark.django_db(transaction=True)
def test_of_several_who_sign_one_order_off_at_once_one_changes_its_cables(keeper, order, page, today):
    """Each has the form on the screen; the others are told what is there now. By hand with four times as many."""
    people = [signed_in(keeper) for _ in range(examples(5))]
    forms = [(client, filled(client, page, all_new="new", all_loss="0.7 0.8")) for client in people]
    waiting = iter(forms)

    def sign_off():
        client, form = next(waiting)
        return client.post(page, form)

    answers = at_once(len(forms), sign_off)
    refused = [answer for answer in answers if answer.status_code != 302]
    assert [answer.status_code for answer in refused] == [422] * (len(forms) - 1)
    assert all("Somebody else" in words(answer) or "was signed off" in words(answer) for answer in refused)
    order.refresh_from_db()
    assert (Fitting.objects.count(), Measurement.objects.count(), order.state_on(today)) == (5, 2, "signed off")
    assert broken(today) == []
