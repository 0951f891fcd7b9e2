"""What is sent from the field is kept on the phone until the pool has it, and stored once, whatever the line does."""

import pytest
from factories import make_mat
from field_phone import LOG, ONCE, OPEN_PAGE, PHONE, READY, log_it, offline, says, slow, stored, type_event

from fleet.models import Event

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mats(db):
    design = make_mat("4").design
    return [make_mat(number, design=design) for number in ("8", "K4")]


@pytest.fixture
def log_page(open_page, log_hand, mats):
    """A phone with the log page open and a new event typed on it, with two mats."""
    page = open_page(log_hand, **OPEN_PAGE)
    page.goto(LOG)
    type_event(page)
    return page


def is_sending(request):
    """Not what the page asks while somebody types."""
    return request.method == "POST" and "x-halfpower-queue" in request.headers


@pytest.mark.parametrize("latency_ms", [400, 1500])
def test_on_a_slow_line_two_taps_store_one_event(log_page, latency_ms):
    slow(log_page, latency_ms)
    log_page.get_by_role("button", name="Log the event").dblclick()
    log_page.wait_for_url("**/events/E-*/")
    log_page.get_by_text("Logged: 2 mats.").wait_for()
    assert stored() == ONCE


def test_without_a_line_it_is_kept_and_said_and_goes_by_itself_once_there_is_one(log_page):
    with offline(log_page):
        log_it(log_page)
        log_page.get_by_text("Hill run, 2 mats: kept on this phone.").wait_for()
        says(log_page, "kept on this phone: 1")
        assert not log_page.get_by_label("Name").is_visible()
        log_page.get_by_role("button", name="Log another event").tap()
        type_event(log_page, "Dyke run", ["K4"])
        log_it(log_page)
        says(log_page, "kept on this phone: 2")
        assert not Event.objects.exists()
    says(log_page, "sent: 1")
    log_page.wait_for_url("**/events/E-*/")
    assert stored() == {"Dyke run": ["K4"], **ONCE}


def test_what_is_kept_outlives_a_reload_and_back_offers_no_second_one(log_page):
    with offline(log_page):
        log_it(log_page)
        says(log_page, "kept on this phone: 1")
        # the line comes back, the pool does not
        log_page.route(READY, lambda route: route.abort())
    log_page.reload()
    says(log_page, "kept on this phone: 1")
    assert log_page.get_by_label("Name").input_value() == ""
    log_page.get_by_role("button", name="Look").tap()
    log_page.locator(".queue-list dd", has_text="4, 8").wait_for()
    log_page.unroute_all()
    log_page.goto("/events/")
    says(log_page, "sent: 1")
    log_page.go_back()
    assert log_page.get_by_label("Name").input_value() == ""
    assert stored() == ONCE


def test_over_plain_http_it_outlives_the_browser_and_two_tabs_send_it_once(open_profile, log_hand, mats, tmp_path):
    page = open_profile(tmp_path / "profile", log_hand, **PHONE)
    page.goto(LOG)
    assert page.evaluate("[isSecureContext, 'locks' in navigator, 'randomUUID' in crypto]") == [False] * 3
    type_event(page)
    page.context.set_offline(True)
    log_it(page)
    says(page, "kept on this phone: 1")
    page.context.close()
    page = open_profile(tmp_path / "profile", **PHONE)
    page.route(READY, lambda route: route.abort())
    tabs, posts = [page, page.context.new_page()], []
    tabs[1].route(READY, lambda route: route.abort())
    page.context.on("request", lambda request: posts.append(request.url) if is_sending(request) else None)
    for tab in tabs:
        tab.goto("/events/")
        says(tab, "kept on this phone: 1")
        tab.unroute_all()
    for tab in tabs:
        tab.evaluate("setTimeout(() => dispatchEvent(new Event('online')))")
    for tab in tabs:
        says(tab, "sent: 1")
    assert len(posts) == 1
    assert stored() == ONCE


def test_an_answer_that_is_lost_after_the_pool_stored_is_asked_for_again(log_page):
    lost = []

    def lose(route):
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    log_page.route("**/events/log/", lose)
    log_it(log_page)
    log_page.get_by_text("kept on this phone. It is sent by itself").wait_for()
    assert (lost, stored()) == ([200], ONCE)
    log_page.evaluate("dispatchEvent(new Event('online'))")
    log_page.wait_for_url("**/events/E-*/")
    assert stored() == ONCE


def test_a_refused_token_against_forged_forms_costs_nothing(log_page):
    answers, asked = [], []

    def spoil(route):
        asked.append(route)
        answer = route.fetch()
        known = answer.json()
        route.fulfill(response=answer, json=known | {"token": "x" * 64} if len(asked) == 1 else known)

    log_page.route(READY, spoil)
    log_page.on("response", lambda each: answers.append(each.status) if is_sending(each.request) else None)
    log_it(log_page)
    log_page.wait_for_url("**/events/E-*/")
    assert answers == [403, 200]
    assert stored() == ONCE
