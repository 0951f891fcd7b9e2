"""The page of a mat: its drawing, what holds it back, and everything that is done from it."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import (
    fit,
    make_design,
    make_event,
    make_fault,
    make_mat,
    make_reading,
    make_segment,
    make_usage_event,
)
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment, Fault, Fitting
from inspections.assessment.services import assess_pool
from inspections.models import Assessment


@pytest.fixture
def mat(db, today):
    return make_mat("M-017", design=make_design("four"), fitted=True, fitted_on=today - timedelta(days=300))


def show(client, mat):
    return client.get(reverse("fleet:mat-detail", args=[mat.number]))


def text_of(answer):
    return " ".join(answer.content.decode().split())


def in_position(mat, position=1):
    return mat.fittings.get(position=position, removed_on=None)


def test_the_drawing_shows_each_cable_with_its_status_and_newest_loss(visitor_client, mat, today):
    make_reading(in_position(mat, 2).segment, 3.41, today - timedelta(days=3), temperature_c=20)
    answer = show(visitor_client, mat)
    drawn = [cable.position for cable in answer.context["drawing"].cables]
    assert [(d.number, d.length_m, d.label, d.status) for d in drawn] == [
        (1, 0.6, "not measured", "ok"),
        (2, 1.1, "3.41 dB", "change now"),
        (3, 1.6, "not measured", "ok"),
        (4, 2.1, "not measured", "ok"),
    ]
    for words in ('role="img"', "<title", "<desc", "To scale, 2 m wide", "Position 2: 1.10 m, change now, 3.41 dB."):
        assert words in text_of(answer)


def test_a_cable_that_was_only_measured_as_new_shows_that(visitor_client, mat):
    CableSegment.objects.filter(pk=in_position(mat, 2).segment_id).update(as_new_loss_db=0.62)
    labels = [cable.position.label for cable in show(visitor_client, mat).context["drawing"].cables]
    assert labels == ["not measured", "0.62 dB as new", "not measured", "not measured"]


def test_a_design_without_folds_is_drawn_not_to_scale_and_a_keeper_is_asked_for_them(visitor_client, keeper_client):
    mat = make_mat("M-1", design=make_design("four", folds_m=[]))
    assert "Not to scale" in text_of(show(visitor_client, mat))
    asked = '<a href="/designs/four/correct/">Write down its fold lines</a>'
    assert asked in text_of(show(keeper_client, mat))
    assert asked not in text_of(show(visitor_client, mat))


def test_it_says_what_holds_the_mat_back(visitor_client, mat, today):
    assert "Nothing is known that keeps it from going out." in text_of(show(visitor_client, mat))
    make_fault(mat, "cover or fold", None, today)
    Fitting.objects.filter(mat=mat, position=3).update(removed_on=today)
    seen = text_of(show(visitor_client, mat))
    assert f"Position 3 is empty. Fault since {today:%-d %b %Y}: cover or fold." in seen
    assert "Do not send it out until this is done." in seen


def test_the_next_event_is_the_soonest_one_planned(visitor_client, mat, today):
    make_usage_event(mat, make_event(today + timedelta(days=20), name="Later run"), "planned")
    make_usage_event(mat, make_event(today + timedelta(days=9), name="Quay run"), "planned")
    assert show(visitor_client, mat).context["state"].next_event.name == "Quay run"


def test_a_withdrawn_mat_is_shown_with_its_cables_unassessed(visitor_client, mat, today):
    mat.withdrawn_on, mat.withdrawal_reason = today, "torn"
    mat.save()
    answer = show(visitor_client, mat)
    assert "Withdrawn: do not send it to an event." in text_of(answer)
    assert {cable.position.status for cable in answer.context["drawing"].cables} == {""}


def test_a_mat_of_a_design_without_positions_says_what_to_do(keeper_client):
    assert "no positions yet" in text_of(show(keeper_client, make_mat("M-1", design=make_design(lengths_m=()))))


def test_its_page_asks_as_often_for_a_full_mat_as_for_a_small_one(keeper_client, today):
    asked = []
    for lengths, rows in (((0.6,), 1), ([0.5 + n / 10 for n in range(16)], 30)):
        mat = make_mat(design=make_design(lengths_m=lengths), fitted=True)
        for number in range(rows):
            make_usage_event(mat, make_event(today - timedelta(days=number)))
            make_reading(in_position(mat).segment, 1.1, today - timedelta(days=number))
            make_fault(mat, reported_on=today - timedelta(days=number), ended_on=today, end_reason="repair")
            taken_out = today - timedelta(days=1900 + 2 * number)
            fit(make_segment(), mat, 1, taken_out - timedelta(days=1), taken_out)
        show(keeper_client, mat)
        with CaptureQueriesContext(connection) as queries:
            show(keeper_client, mat)
        asked.append(len(queries))
    assert asked[0] == asked[1]


def send(client, page_name, *args, **values):
    return client.post(reverse(page_name, args=args), values)


def fitting_form(client, mat, position, **values):
    """What the form of the page sends, as it was opened, with these values typed."""
    opened = client.get(reverse("fleet:fit", args=[mat.number, position])).context
    held = opened["place"].fitting
    return {
        "token": str(opened["form"]["token"].value()),
        "row": held.pk if held else "",
        "version": held.version if held else "",
        "fitted_on": opened["on"].isoformat(),
        "basis": "known",
        **values,
    }


def change(client, mat, position=1, **values):
    form = fitting_form(client, mat, position, **values)
    return form, send(client, "fleet:fit", mat.number, position, **form)


def spare(mat, serial, length_m=0.6):
    """One for position 1."""
    return make_segment(length_m, serial, cable_type=mat.design.positions.get(number=1).cable_type)


def test_a_cable_is_changed_from_the_page_in_one_act(bench_client, mat, today):
    spare(mat, "C-NEW")
    make_fault(mat, "connector", 1, today - timedelta(days=2))
    old = in_position(mat)
    _, answer = change(bench_client, mat, segment="c-new", reason="nut turns", goes="thrown away")
    assert answer.url == mat.get_absolute_url()
    old.refresh_from_db()
    assert (old.removed_on, old.removal_reason, old.segment.withdrawn_on) == (today, "nut turns", today)
    assert in_position(mat).segment.serial == "C-NEW"
    assert Fault.objects.get().end_reason == "change"
    seen = text_of(show(bench_client, mat))
    assert "1 open fault of that position ended by change." in seen
    assert "nut turns" in seen


def test_without_a_cause_nothing_is_changed_and_what_was_typed_stays(bench_client, mat):
    spare(mat, "C-NEW")
    _, answer = change(bench_client, mat, segment="C-NEW", reason="")
    assert answer.status_code == 422
    assert 'value="C-NEW"' in text_of(answer)
    assert in_position(mat).segment.serial != "C-NEW"


def test_another_length_is_shown_as_a_note(bench_client, mat):
    spare(mat, "C-NEW", 0.65)
    change(bench_client, mat, segment="C-NEW", reason="worn", goes="back to the shelf")
    seen = text_of(show(bench_client, mat))
    assert "<b>Note.</b> C-NEW is 0.65 m long, its position is for 0.60 m. Its own length counts." in seen
    assert "(design: 0.60)" in seen


def test_a_cable_of_another_mat_moves_when_it_is_ticked(bench_client, mat, today):
    other = make_mat("M-018", design=mat.design, fitted=True)
    serial = in_position(other).segment.serial
    values = {"segment": serial, "reason": "worn", "goes": "back to the shelf"}
    _, refused = change(bench_client, mat, **values)
    assert "is in M-018 position 1" in text_of(refused)
    assert 'name="move"' in text_of(refused)
    change(bench_client, mat, move="on", **values)
    assert in_position(mat).segment.serial == serial
    assert not other.fittings.filter(position=1, removed_on=None).exists()


def test_a_form_sent_twice_changes_the_cable_once(bench_client, mat):
    spare(mat, "C-NEW")
    form, first = change(bench_client, mat, segment="C-NEW", reason="worn", goes="back to the shelf")
    again = send(bench_client, "fleet:fit", mat.number, 1, **form)
    assert (again.status_code, again.url) == (302, first.url)
    assert mat.fittings.filter(position=1).count() == 2


def test_a_position_that_somebody_else_changed_meanwhile_is_not_changed_again(bench_client, keeper_client, mat):
    spare(mat, "C-HERS")
    spare(mat, "C-HIS")
    late = fitting_form(bench_client, mat, 1, segment="C-HIS", reason="worn", goes="thrown away")
    change(keeper_client, mat, segment="C-HERS", reason="worn", goes="thrown away")
    answer = send(bench_client, "fleet:fit", mat.number, 1, **late)
    assert answer.status_code == 422
    assert "it now holds C-HERS" in text_of(answer)
    assert 'value="C-HIS"' in text_of(answer)
    assert in_position(mat).segment.serial == "C-HERS"


def test_an_unknown_serial_is_named_and_leads_to_adding_it(keeper_client, mat):
    _, answer = change(keeper_client, mat, segment="C-<9>", reason="worn", goes="thrown away")
    assert "There is no cable C-&lt;9&gt; in the register" in text_of(answer)
    assert "mat=M-017&amp;position=1&amp;length_m=0.6" in text_of(answer)
    assert 'name="move"' not in text_of(answer)


def test_a_cable_is_taken_out_and_the_position_is_empty(bench_client, mat, today):
    fitting = in_position(mat)
    values = {
        "removed_on": today.isoformat(),
        "goes": "back to the shelf",
        "row": fitting.pk,
        "version": fitting.version,
    }
    assert send(bench_client, "fleet:take-out", "M-017", 1, **values).status_code == 422
    for _ in range(2):
        answer = send(bench_client, "fleet:take-out", "M-017", 1, reason="for M-018", **values)
        assert answer.url == mat.get_absolute_url()
    fitting.refresh_from_db()
    assert (fitting.removed_on, fitting.removal_reason) == (today, "for M-018")
    assert "Position 1 is empty." in text_of(show(bench_client, mat))


def test_a_fault_is_reported_ended_and_corrected_from_the_page(keeper_client, mat, today):
    opened = keeper_client.get(reverse("fleet:fault-report", args=["M-017"])).context["form"]
    form = {"token": str(opened["token"].value()), "place": "cover or fold", "reported_on": today.isoformat()}
    for _ in range(2):
        send(keeper_client, "fleet:fault-report", "M-017", what="split <along> it's fold", **form)
    fault = Fault.objects.get()
    assert "split &lt;along&gt; it&#x27;s fold" in text_of(show(keeper_client, mat))
    correction = {"place": "whole mat", "reported_on": today.isoformat(), "reason": "looked again", "version": 1}
    send(keeper_client, "fleet:fault-correct", fault.pk, **correction)
    assert "looked again" in text_of(show(keeper_client, mat))
    end = {"end_reason": "repair", "ended_on": today.isoformat(), "version": 2}
    for _ in range(2):
        assert send(keeper_client, "fleet:fault-end", fault.pk, **end).url == mat.get_absolute_url()
    fault.refresh_from_db()
    assert (fault.place, fault.ended_on, fault.end_reason) == ("whole mat", today, "repair")
    assert "Nothing is known that keeps it from going out." in text_of(show(keeper_client, mat))


def end_page(client, fault):
    return text_of(client.get(reverse("fleet:fault-end", args=[fault.pk])))


def test_before_a_fault_is_closed_its_page_says_what_that_means(bench_client, mat, today):
    wet, torn = make_fault(mat, "whole mat", None, today), make_fault(mat, "cable", 1, today, number=2)
    page, of_cable = end_page(bench_client, wet), end_page(bench_client, torn)
    assert "Once it is closed, the mat may go out again unless something else keeps it." in page
    assert "the cable in position 1 no longer counts as damaged" in of_cable
    assert 'value="dried"' in page and 'value="dried"' not in of_cable
    assert fault_to_end(bench_client, torn, "dried").status_code == 422


def test_who_logs_only_says_that_a_mat_has_dried_and_no_more(log_client, mat, today):
    wet, torn = make_fault(mat, "wet", None, today), make_fault(mat, "cover or fold", None, today, number=2)
    page = text_of(show(log_client, mat))
    assert "It has dried" in page and f"/faults/{torn.pk}/end/" not in page
    assert log_client.get(reverse("fleet:fault-end", args=[torn.pk])).status_code == 403
    assert f"/faults/{torn.pk}/end/" not in text_of(log_client.get("/"))
    assert re.findall(r'name="end_reason" value="([^"]+)"', end_page(log_client, wet)) == ["dried"]
    assert fault_to_end(log_client, wet, "repair").status_code == 403
    assert fault_to_end(log_client, wet, "dried").url == mat.get_absolute_url()
    wet.refresh_from_db()
    assert (wet.ended_on, wet.end_reason) == (today, "dried")


def fault_to_end(client, fault, how):
    opened = form_in(client.get(reverse("fleet:fault-end", args=[fault.pk])))
    return send(client, "fleet:fault-end", fault.pk, **opened | {"end_reason": how})


def test_a_fault_of_a_cable_without_a_position_is_one_of_the_cables(bench_client, mat, today):
    opened = bench_client.get(reverse("fleet:fault-report", args=["M-017"])).context["form"]
    form = {"token": str(opened["token"].value()), "place": "connector", "reported_on": today.isoformat()}
    send(bench_client, "fleet:fault-report", "M-017", what="loose", **form)
    assert mat.faults.values_list("place", "position").get() == ("one of the cables", None)
    assert "loose" in mat.faults.get().what


def test_visitors_look_and_do_not_touch(visitor_client, mat, today):
    fault = make_fault(mat, reported_on=today)
    fitting = in_position(mat)
    seen = text_of(show(visitor_client, mat))
    for name, args in [
        ("fleet:fit", ["M-017", 1]),
        ("fleet:take-out", ["M-017", 1]),
        ("fleet:fault-report", ["M-017"]),
        ("fleet:fault-end", [fault.pk]),
        ("fleet:fault-correct", [fault.pk]),
        ("fleet:fitting-correct", [fitting.segment.serial, fitting.pk]),
    ]:
        address = reverse(name, args=args)
        assert visitor_client.get(address).status_code == 403
        assert visitor_client.post(address, {}).status_code == 403
        assert address not in seen


def test_a_day_ahead_is_refused_at_its_field(bench_client, mat, today):
    spare(mat, "C-NEW")
    ahead = (today + timedelta(days=1)).isoformat()
    values = {"segment": "C-NEW", "reason": "worn", "goes": "thrown away", "fitted_on": ahead}
    _, answer = change(bench_client, mat, **values)
    assert "is after today" in answer.context["form"].errors["fitted_on"][0]
    assert f'value="{ahead}"' in text_of(answer)


def chance_told(client, mat):
    text = words_in(client.get(mat.get_absolute_url()).content.decode())
    return text.partition("Any cable over the limit today ")[2][:120]


def test_a_cable_measured_over_is_no_matter_of_chance(visitor_client, today):
    mat = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=100))
    make_reading(mat.fittings.get(position=2).segment, None, today)
    assess_pool(today)
    assert chance_told(visitor_client, mat).startswith("yes, measured: position 2; 3 cables without an estimate")


def test_a_cable_whose_newest_reading_departs_keeps_its_chance(visitor_client, today):
    mat = make_mat("M-001", fitted=True, fitted_on=today - timedelta(days=100))
    assess_pool(today)
    Assessment.objects.filter(mat=mat).update(chance_over=0.02, trend_level_db=1, trend_rate_db=0.1)
    Assessment.objects.filter(mat=mat, position=1).update(trend_departure=4.5, chance_over=0.0001)
    Assessment.objects.filter(mat=mat, position=2).update(chance_over=None)
    assert chance_told(visitor_client, mat).startswith("2 % to 4 % likely; 1 cable without an estimate")
