"""*Use these limits*: one act, with the due list's counts before and after, taken back as one."""

from datetime import date
from html import unescape

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from factories import set_policy_value
from page_forms import form_in
from page_words import words_in
from worn_pools import make_pool

from inspections.assessment.services import ensure_assessed
from inspections.length_limits.proposal_services import FIRST, LATER, proposed_of
from inspections.length_limits.services import pool_limits
from inspections.length_limits.use_services import take_back, use_limits
from inspections.models import Assessment, PolicyValue, UsedLimits
from inspections.numeric.words import DUE

pytestmark = pytest.mark.django_db
ON = date(2026, 10, 1)
USE = "/lives/limits/use/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)


@pytest.fixture
def mats():
    """Three mats, each of a design of its own; cables of 1.6 m and longer reach 5 % over before three years."""
    return make_pool(rate_db=0.5)


def limits():
    return pool_limits(ON, ON)


def due_now():
    return Assessment.objects.of_status(*DUE).count()


def own_values():
    rows = PolicyValue.objects.in_force().exclude(position=None)
    return {(row.design_id, row.position): row.value for row in rows}


def text_of(answer):
    return words_in(unescape(answer.content.decode()))


def use_them(keeper, **which):
    return use_limits(proposed_of(limits(), **which), wear_clock="years", by=keeper, on=ON, reason="tried")


def test_the_keeper_sees_what_would_change_and_one_act_changes_it(keeper_client, mats):
    page = keeper_client.get(USE)
    proposed, before = page.context["proposed"], due_now()
    assert {each.row.position for each in proposed} == {3, 4}
    assert f"{len(proposed)} positions would get their own limit." in text_of(page)
    then = page.context["preview"].due_then
    assert then > before == page.context["preview"].due_now
    assert own_values() == {}
    answer = keeper_client.post(USE, form_in(page), follow=True)
    assert own_values() == {(each.row.design.pk, each.row.position): each.value for each in proposed}
    assert due_now() == then
    (used,) = UsedLimits.objects.all()
    assert (used.due_before, used.due_after, used.reason) == (before, then, "limits by length")
    assert f"{len(proposed)} positions: {before} cables were due before, {then} after." in text_of(answer)
    assert {row.reason for row in PolicyValue.objects.all()} == {"limits by length"}
    assert all(row.today == pytest.approx(limits().proposal(row)) for row in limits().rows)
    assert "Nothing would change" in text_of(keeper_client.get(USE))
    assert used.get_absolute_url() in keeper_client.get("/lives/limits/").content.decode()


def test_the_same_form_sent_twice_acts_once(keeper_client, mats):
    form = form_in(keeper_client.get(USE))
    first, second = (keeper_client.post(USE, form) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302)
    assert first["Location"] == second["Location"]
    assert UsedLimits.objects.count() == 1


def test_a_form_that_came_too_late_is_refused_and_can_be_sent_again(keeper_client, keeper, mats):
    form = form_in(keeper_client.get(USE)) | {"reason": "this <season>"}
    set_policy_value("age_limit_years", 1, design=mats[0].design, position=4, by=keeper, on=ON)
    refused = keeper_client.post(USE, form)
    assert refused.status_code == 422
    assert "What would change is not what your page showed." in text_of(refused)
    assert list(own_values()) == [(mats[0].design.pk, 4)]
    again = form_in(refused)
    assert again["reason"] == "this <season>"
    assert keeper_client.post(USE, again).status_code == 302
    assert UsedLimits.objects.get().reason == "this <season>"


def test_of_two_at_once_the_second_is_refused_whole(keeper, mats):
    proposed = proposed_of(limits())
    use_limits(proposed, wear_clock="years", by=keeper, on=ON)
    kept = own_values()
    with pytest.raises(ValidationError, match="somebody else changed it meanwhile"):
        use_limits(proposed, wear_clock="years", by=keeper, on=ON)
    assert (own_values(), UsedLimits.objects.count()) == (kept, 1)
    with pytest.raises(ValidationError, match="nothing would change"):
        use_them(keeper)


def test_it_may_be_one_design_only_the_shorter_ones_or_further_than_was_watched(keeper_client, mats):
    design = mats[1].design
    page = limits()
    assert {each.row.design for each in proposed_of(page, design=design.code)} == {design}
    assert {each.row.position for each in proposed_of(page, which=FIRST)} == {3, 4}
    assert proposed_of(page, which=LATER) == []
    further = proposed_of(page, which=LATER, further=1.5)
    assert {each.row.position for each in further} <= {1, 2}
    for each in further:
        # two years watched and a year and a half, and no later than the early end of the interval
        assert 3 < each.value <= min(each.row.watched_until + 1.5, each.row.low) + 1e-9
    shown = keeper_client.get(f"{USE}?design={design.code}&which=first&further=12")
    assert {each.row.design for each in shown.context["proposed"]} == {design}
    assert "Nobody has watched cables for so long" in text_of(shown)
    keeper_client.post(f"{USE}?design={design.code}&which=first", form_in(shown))
    assert {design_id for design_id, _ in own_values()} == {design.pk}


def test_taken_back_each_position_has_what_it_had(keeper_client, keeper, mats):
    ensure_assessed(ON)
    set_policy_value("age_limit_years", 5, design=mats[0].design, position=4, by=keeper, on=ON)
    before, due = own_values(), due_now()
    used = use_them(keeper)
    page = keeper_client.get(f"{used.get_absolute_url()}take-back/")
    assert page.context["preview"].due_then == due
    answer = keeper_client.post(
        f"{used.get_absolute_url()}take-back/", form_in(page) | {"reason": "too many"}, follow=True
    )
    assert "The limits are taken back" in text_of(answer)
    assert "Taken back on 1 Oct 2026." in text_of(answer)
    assert (own_values(), due_now()) == (before, due)
    again = keeper_client.post(f"{used.get_absolute_url()}take-back/", form_in(page) | {"reason": "too many"})
    assert again.status_code == 422
    assert "They were taken back on 1 Oct 2026." in text_of(again)
    with pytest.raises(ValidationError, match="taken back already"):
        take_back(UsedLimits.objects.get(), by=keeper, on=ON)


def test_what_somebody_changed_since_stays(keeper_client, keeper, mats):
    used = use_them(keeper)
    changed = mats[2].design
    set_policy_value("age_limit_years", 2, design=changed, position=4, by=keeper, on=ON)
    page = keeper_client.get(f"{used.get_absolute_url()}take-back/")
    assert "1 position stays as now: changed since." in text_of(page)
    take_back(used, by=keeper, on=ON)
    assert own_values() == {(changed.pk, 4): 2}


def test_who_may_not_keep_sees_them_and_uses_none(visitor_client, keeper, mats):
    used = use_them(keeper)
    assert "Take back" not in text_of(visitor_client.get(used.get_absolute_url()))
    assert visitor_client.get(USE).status_code == 403
    assert visitor_client.post(f"{used.get_absolute_url()}take-back/", {"reason": "why"}).status_code == 403
