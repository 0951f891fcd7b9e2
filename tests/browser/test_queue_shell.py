"""The log page opens without signal, on the phone of somebody who opened it with one before."""

from datetime import timedelta

import pytest
from django.utils import timezone
from factories import make_event, make_mat, make_usage_event
from field_phone import LOG, ONCE, PHONE, log_it, says, stored, type_event

from fleet.models import Event, Session
from fleet.views import queue

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CACHES = "caches.keys()"


@pytest.fixture
def event(db, today):
    event = make_event(today - timedelta(days=1), name="Hill run", place="Ridge")
    design = make_mat("K4").design
    for number in ("4", "8"):
        make_usage_event(make_mat(number, design=design), event, state="planned")
    return event


@pytest.fixture
def phone(open_page, keeper, log_hand, event):
    """A phone that has opened the log page, and keeps it by now."""
    page = open_page(log_hand, **PHONE)
    page.goto(LOG)
    keeps(page)
    return page


def keeps(page):
    page.evaluate("navigator.serviceWorker.ready")
    until(page, lambda: page.evaluate("queueStore.beside('known')") and page.evaluate(CACHES))


def until(page, holds):
    for _ in range(100):
        if holds():
            return
        page.wait_for_timeout(50)
    raise AssertionError("It never came to hold.")


def test_without_signal_the_page_opens_with_mats_and_events_and_names_nobody(phone, log_hand):
    phone.context.set_offline(True)
    phone.goto(LOG)
    phone.get_by_text("No signal.").wait_for()
    phone.context.set_offline(False)
    # nothing is typed yet, so the live page comes back with the line
    phone.locator(".thumb").wait_for()
    phone.context.set_offline(True)
    phone.goto(LOG)
    phone.get_by_text("No signal.").wait_for()
    assert phone.locator("body", has_text=log_hand.username).count() == 0
    assert phone.locator("[name=csrfmiddlewaretoken], nav").count() == 0
    assert phone.evaluate("[innerWidth, document.documentElement.scrollWidth]") == [390, 390]
    log_it(phone)
    phone.get_by_text("Choose the event, or add another one.").wait_for()
    phone.get_by_text("Hill run").tap()
    phone.get_by_text("2 mats chosen").wait_for()
    phone.get_by_label("Hours out").fill("6,5")
    log_it(phone)
    says(phone, "kept on this phone: 1")
    # a day later, the page closed and opened again, still without a line
    phone.goto(LOG)
    says(phone, "kept on this phone: 1")
    phone.context.set_offline(False)
    phone.reload()
    says(phone, "sent: 1")
    assert stored() == ONCE
    assert set(Event.objects.get().usage_events.values_list("state", "hours_out")) == {("went", 6.5)}


def test_a_new_event_typed_without_signal_is_of_the_pools_day_whatever_the_clock_of_the_phone(phone, today):
    phone.clock.set_fixed_time(timezone.now() + timedelta(days=1))
    phone.reload()
    until(phone, lambda: phone.evaluate("queueStore.beside('known')")["aheadMs"] < -3_600_000)
    phone.context.set_offline(True)
    phone.goto(LOG)
    phone.locator("#id_event_new").check()
    assert phone.get_by_label("First day").input_value() == str(today)
    type_event(phone, "Dyke run", ["K4"])
    log_it(phone)
    says(phone, "kept on this phone: 1")
    phone.context.set_offline(False)
    phone.wait_for_url("**/events/E-*/")
    new = Event.objects.get(name="Dyke run")
    assert (new.starts_on, [usage.mat.number for usage in new.usage_events.all()]) == (today, ["K4"])


def typed_on(page):
    boxes = page.locator("[name=mats]:checked").evaluate_all("(boxes) => boxes.map((box) => box.value)")
    return page.get_by_label("Name").input_value(), page.get_by_label("Hours out").input_value(), boxes


def test_what_is_typed_without_signal_and_not_sent_outlives_reloads_and_goes_along_to_the_live_page(phone):
    typed = ("Dyke run", "5", ["K4"])
    phone.context.set_offline(True)
    phone.goto(LOG)
    type_event(phone, "Dyke run", ["K4"])
    phone.get_by_label("Hours out").fill("5")
    phone.wait_for_timeout(300)
    phone.reload()
    until(phone, lambda: typed_on(phone) == typed)
    with phone.expect_navigation():
        phone.get_by_role("link", name="Try to open the live page").tap()
    until(phone, lambda: typed_on(phone) == typed)
    phone.context.set_offline(False)
    phone.wait_for_timeout(300)
    assert typed_on(phone) == typed
    with phone.expect_navigation():
        phone.get_by_role("link", name="Try to open the live page").tap()
    phone.locator(".thumb").wait_for()
    until(phone, lambda: typed_on(phone) == typed)
    phone.get_by_text("What you typed here and did not send is back.").wait_for()
    log_it(phone)
    phone.wait_for_url("**/events/E-*/")
    assert [usage.mat.number for usage in Event.objects.get(name="Dyke run").usage_events.all()] == ["K4"]
    phone.goto(LOG)
    assert phone.evaluate("queueStore.beside('draft')") is None


def test_no_field_that_was_begun_is_emptied_when_the_line_comes_back(phone):
    phone.context.set_offline(True)
    phone.goto(LOG)
    phone.locator("#id_event_new").check()
    phone.get_by_label("Place").fill("Ditch")
    phone.context.set_offline(False)
    phone.wait_for_timeout(1000)
    assert phone.get_by_label("Place").input_value() == "Ditch"
    phone.get_by_text("No signal.").wait_for()


def test_what_was_typed_on_the_live_page_is_there_without_signal_once_and_not_again_when_it_is_sent(phone):
    type_event(phone, "Dyke run", ["K4"])
    phone.wait_for_timeout(300)
    phone.context.set_offline(True)
    phone.reload()
    until(phone, lambda: typed_on(phone) == ("Dyke run", "", ["K4"]))
    log_it(phone)
    says(phone, "kept on this phone: 1")
    phone.reload()
    phone.get_by_role("heading", name="On this phone").wait_for()
    assert typed_on(phone) == ("", "", [])
    phone.context.set_offline(False)
    says(phone, "sent: 1")
    phone.goto(LOG)
    phone.reload()
    assert typed_on(phone) == ("", "", [])


@pytest.mark.parametrize("how", ["by the button", "elsewhere"])
def test_signing_out_empties_what_is_kept_to_log_with_and_keeps_the_queue(phone, how):
    phone.route("**/events/log/", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    type_event(phone)
    log_it(phone)
    says(phone, "kept on this phone: 1")
    if how == "elsewhere":
        Session.objects.all().delete()
        phone.goto("/events/")
    else:
        phone.get_by_text("Menu").tap()
        phone.locator(".thumb").get_by_role("button", name="Sign out").tap()
    says(phone, "kept on this phone: 1. Sign in, and it is sent.")
    until(phone, lambda: phone.evaluate(CACHES) == [] and not phone.evaluate("queueStore.beside('known')"))
    assert not Event.objects.filter(usage_events__state="went").exists()


def test_a_worker_of_another_version_replaces_what_the_older_one_kept(phone, monkeypatch):
    (before,) = phone.evaluate(CACHES)
    phone.evaluate("caches.open('halfpower-log-older')")
    other = queue._shell().replace("Log an event", "Log what went")
    monkeypatch.setattr(queue, "_shell", lambda: other)
    phone.reload()
    until(phone, lambda: phone.evaluate(CACHES) not in ([before], [], ["halfpower-log-older", before]))
    until(phone, lambda: len(phone.evaluate(CACHES)) == 1)
    assert phone.evaluate(CACHES) != [before]
