"""What the phone kept and the pool did not take as it was: it waits for its account, its pool, or an answer."""

from datetime import timedelta

import pytest
from factories import make_event, make_mat, make_person, make_usage_event
from field_phone import LOG, ONCE, OPEN_PAGE, READY, log_it, offline, says, stored, type_event
from photos import photo_bytes

from fleet.models import Event, Fault, FaultPhoto, Pool, Session, UsageEvent
from fleet.services.people import change_role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mats(db):
    design = make_mat("4").design
    return [make_mat(number, design=design) for number in ("8", "K4")]


@pytest.fixture
def planned(mats, today):
    """An event of yesterday, for which two mats are planned."""
    event = make_event(today - timedelta(days=1), name="Hill run", code="E-1")
    for mat in mats:
        make_usage_event(mat, event, state="planned")
    return event


@pytest.fixture
def phones(open_page, log_hand, planned):
    """Two phones of one account, each with the log page open on that event."""
    pages = [open_page(log_hand, **OPEN_PAGE) for _ in range(2)]
    for page in pages:
        page.goto(f"{LOG}?event=E-1")
    return pages


def kept(page):
    with offline(page):
        log_it(page)
        says(page, "kept on this phone: 1")
        # whatever is said now is said of the line
        page.route(READY, lambda route: route.abort())
    return page


def back_on_line(page):
    page.unroute_all()
    page.evaluate("dispatchEvent(new Event('online'))")


def test_two_phones_that_say_otherwise_of_one_event_are_told_both_and_one_record_stands(phones):
    first, second = phones
    second.get_by_label("Hours out").fill("5")
    kept(second)
    first.get_by_label("Hours out").fill("6,5")
    log_it(first)
    first.wait_for_url("**/events/E-1/")
    back_on_line(second)
    both = "K4, mat 8: stored is went (6.5 h out), you sent went (5 h out)."
    second.locator(".form-errors", has_text=both).wait_for()
    assert second.get_by_label("Hours out").input_value() == "5"
    says(second, "needs your answer: 1")
    log_it(second)
    second.locator(".form-errors", has_text=both).wait_for()
    assert set(UsageEvent.objects.values_list("mat__number", "state", "hours_out")) == {
        ("8", "went", 6.5),
        ("K4", "went", 6.5),
    }
    second.goto(LOG)
    says(second, "needs your answer: 1")
    second.get_by_role("button", name="Throw away").tap()
    second.get_by_role("button", name="Throw it away").tap()
    second.locator(".queue-list").wait_for(state="hidden")
    assert UsageEvent.objects.count() == 2


def test_what_the_pool_asks_is_answered_on_the_page_that_was_sent(open_page, log_hand, mats, today):
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto(LOG)
    type_event(page)
    page.get_by_label("First day").fill(str(today + timedelta(days=1)))
    log_it(page)
    page.get_by_text("It ends after today.").first.wait_for()
    assert page.locator("[name=mats]:checked").count() == 2
    page.get_by_label("First day").fill(str(today))
    log_it(page)
    page.wait_for_url("**/events/E-*/")
    assert stored() == ONCE
    assert page.evaluate("queueStore.all()") == []


def test_another_account_or_pool_never_sends_it_and_says_whose_it_is(open_page, log_hand, mats):
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto(LOG)
    type_event(page)
    kept(page)
    own = page.context.cookies()
    other = open_page(make_person("gate", role="log"), **OPEN_PAGE)
    page.unroute_all()
    page.context.clear_cookies()
    page.context.add_cookies(other.context.cookies())
    # the page of the one in the browser of the other
    page.evaluate("dispatchEvent(new Event('online'))")
    page.get_by_text("It is sent once the account that typed it is signed in.").wait_for()
    page.goto(LOG)
    says(page, "kept for another account: 1")
    assert page.get_by_role("button", name="Send now").count() == 0
    page.context.clear_cookies()
    page.context.add_cookies(own)
    uid = Pool.objects.values_list("uid", flat=True).get()
    Pool.objects.update(uid="00000000-0000-4000-8000-000000000000")
    page.goto(LOG)
    says(page, "kept for another pool: 1")
    assert not Event.objects.exists()
    Pool.objects.update(uid=uid)
    page.goto(LOG)
    says(page, "sent: 1")
    assert stored() == ONCE


def test_who_is_signed_out_meanwhile_is_asked_to_sign_in_and_then_it_is_sent(open_page, keeper, log_hand, mats):
    log_hand.set_password("a word at the gate")
    log_hand.save()
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto(LOG)
    type_event(page)
    Session.objects.all().delete()
    log_it(page)
    page.get_by_role("link", name="Sign in to send").tap()
    says(page, "kept on this phone: 1. Sign in, and it is sent.")
    page.get_by_label("Name").fill(log_hand.username)
    page.get_by_label("Password").fill("a word at the gate")
    page.get_by_role("button", name="Sign in").tap()
    page.wait_for_url(f"**{LOG}")
    says(page, "sent: 1")
    assert stored() == ONCE


def test_a_phone_whose_clock_is_a_day_wrong_sends_all_the_same(open_page, log_hand, mats, today):
    page = open_page(log_hand, **OPEN_PAGE)
    page.clock.set_fixed_time(f"{today - timedelta(days=1)}T12:00:00")
    page.goto(LOG)
    type_event(page)
    kept(page)
    page.clock.set_fixed_time(f"{today + timedelta(days=1)}T12:00:00")
    back_on_line(page)
    page.wait_for_url("**/events/E-*/")
    assert stored() == ONCE
    assert Event.objects.get().starts_on == today


def test_went_and_a_fault_with_its_photo_are_kept_like_an_event(open_page, log_hand, planned):
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto("/events/E-1/")
    with offline(page):
        page.get_by_role("button", name="Went").tap()
        says(page, "kept on this phone: 1")
    page.get_by_text("Hill run: 2 mats went.").wait_for()
    page.goto("/mats/K4/faults/report/")
    seen = {"name": "seen.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes()}
    page.locator("[name=photos]").set_input_files(seen)
    with offline(page):
        page.get_by_role("button", name="wet").tap()
        page.get_by_text("Fault on K4: It is wet: kept on this phone.").wait_for()
    page.get_by_text("Reported: K4 is wet.").wait_for()
    assert UsageEvent.objects.filter(state="went").count() == 2
    assert (Fault.objects.get().place, FaultPhoto.objects.count()) == ("wet", 1)


def test_what_is_about_a_deleted_event_says_so_in_its_place_and_is_thrown_away_there(open_page, log_hand, planned):
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto("/events/E-1/")
    planned.usage_events.all().delete()
    planned.delete()
    page.get_by_role("button", name="Went").tap()
    panel = page.locator(".queue-panel")
    panel.get_by_text("The event was deleted meanwhile, so nothing was stored.").wait_for()
    panel.get_by_role("button", name="Throw away").tap()
    panel.get_by_role("button", name="Throw it away").tap()
    panel.get_by_text("Hill run: went: thrown away.").wait_for()
    assert page.evaluate("queueStore.all()") == []


def test_an_account_that_may_no_longer_log_is_told_so_on_every_page_and_it_is_sent_once_it_may(
    open_page, keeper, log_hand, planned
):
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto("/mats/K4/faults/report/")
    change_role(log_hand, "visitor", by=keeper)
    page.get_by_role("button", name="wet").tap()
    barred = f"{log_hand.username} may no longer log. Ask the keeper. It is sent once that is allowed again."
    page.locator(".queue-panel").get_by_text(barred).wait_for()
    page.goto("/")
    kept_ones = page.locator(".queue-list")
    kept_ones.get_by_text(barred).wait_for()
    assert kept_ones.get_by_role("button").all_inner_texts() == ["Look", "Throw away"]
    kept_ones.get_by_role("button", name="Look").tap()
    assert not Fault.objects.exists()
    change_role(log_hand, "log", by=keeper)
    page.reload()
    says(page, "sent: 1")
    assert Fault.objects.get().place == "wet"
