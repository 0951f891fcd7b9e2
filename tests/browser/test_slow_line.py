"""What is ticked on the log page while its answers are on their way stays, however long they take."""

from datetime import timedelta

import pytest
from factories import make_event, make_plain_mat, make_usage_event

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
LATENCIES_MS = (0, 400, 1500)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mats(db):
    return [make_plain_mat(number=number) for number in ("4", "7", "8", "K4", "K5")]


@pytest.fixture
def open_log(open_page, keeper, mats):
    """The log page on a phone whose line is that slow once the page is there."""

    def opened(latency_ms):
        page = open_page(keeper, **PHONE)
        page.goto("/events/log/")
        set_latency(page, latency_ms)
        return page

    return opened


def set_latency(page, latency_ms):
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    throughput = {"downloadThroughput": -1, "uploadThroughput": -1}
    line.send("Network.emulateNetworkConditions", {"offline": False, "latency": latency_ms, **throughput})


def tile(page, number):
    return page.locator(".tiles").get_by_text(number, exact=True)


def choose(page, event):
    page.locator("label:has([name=event])").filter(has_text=event).tap()


def ticked(page):
    return page.locator("[name=mats]").evaluate_all("boxes => boxes.filter(b => b.checked).map(b => b.value)")


def answered(page):
    page.locator("#log-mats:not(.looking)").wait_for(state="attached")
    assert page.locator("[data-looking]").inner_text() == ""


@pytest.mark.parametrize("latency_ms", LATENCIES_MS)
def test_mats_ticked_right_after_another_event_is_added_are_logged(open_log, today, latency_ms):
    make_event(today, name="Hill run")
    page = open_log(latency_ms)
    page.get_by_text("Another one: add it").tap()
    page.get_by_label("Name").fill("Gravel ride")
    for number in ("4", "8", "K4"):
        tile(page, number).tap()
    answered(page)
    assert ticked(page) == ["4", "8", "K4"]
    assert page.locator("[data-chosen]").inner_text() == "3 chosen: 4, 8, K4"
    set_latency(page, 0)
    page.get_by_role("button", name="Log the event").tap()
    page.wait_for_url("**/events/E-*/")
    page.get_by_text("Logged: 3 mats.").wait_for()


@pytest.mark.parametrize("latency_ms", LATENCIES_MS)
def test_the_planned_mats_come_beside_what_was_ticked_and_not_over_what_was_unticked(open_log, mats, today, latency_ms):
    event = make_event(today, name="Hill run")
    for mat in mats[:3]:
        make_usage_event(mat, event, state="planned")
    page = open_log(latency_ms)
    tile(page, "7").tap()
    choose(page, "Hill run")
    tile(page, "7").tap()
    tile(page, "K5").tap()
    answered(page)
    page.get_by_text("Planned for this event").wait_for()
    assert ticked(page) == ["4", "8", "K5"]


def test_of_two_answers_only_that_of_the_event_that_is_chosen_counts(open_log, mats, today):
    first, second = make_event(today, name="Hill run"), make_event(today - timedelta(days=1), name="Mill run")
    make_usage_event(mats[0], first, state="planned")
    make_usage_event(mats[1], second, state="planned")
    page = open_log(0)
    held = []
    page.route("**/events/log/", lambda route: held.append(route))
    choose(page, "Hill run")
    choose(page, "Mill run")
    tile(page, "K4").tap()
    while len(held) < 2:
        page.wait_for_timeout(20)
    for route in reversed(held):
        route.continue_()
    answered(page)
    assert ticked(page) == ["7", "K4"]


def test_what_a_hand_ticked_stays_when_another_event_is_chosen_and_what_the_page_ticked_makes_way(
    open_log, mats, today
):
    first = make_event(today, name="Hill run")
    make_event(today - timedelta(days=1), name="Mill run")
    for mat in mats[:2]:
        make_usage_event(mat, first, state="planned")
    page = open_log(0)
    tile(page, "4").tap()
    choose(page, "Hill run")
    answered(page)
    assert ticked(page) == ["4", "7"]
    choose(page, "Mill run")
    answered(page)
    assert ticked(page) == ["4"]


@pytest.mark.parametrize("way", ["reload", "go_back"])
def test_ticks_are_there_again_after_reload_and_back_while_an_answer_was_on_its_way(open_log, mats, today, way):
    event = make_event(today, name="Hill run")
    make_usage_event(mats[0], event, state="planned")
    page = open_log(0)
    held = []
    page.route("**/events/log/", lambda route: route.continue_() if held else held.append(route))
    choose(page, "Hill run")
    tile(page, "8").tap()
    tile(page, "K4").tap()
    assert len(held) == 1
    if way == "go_back":
        page.goto("/events/")
    getattr(page, way)()
    answered(page)
    assert ticked(page) == ["8", "K4"]
    assert page.get_by_role("radio", name="Hill run").is_checked()
    page.get_by_role("button", name="Tick the planned mats").tap()
    assert ticked(page) == ["4", "8", "K4"]


def test_last_time_asked_for_before_the_answer_comes_with_it(open_log, mats, today):
    last = make_event(today - timedelta(days=30), name="Hill run")
    make_usage_event(mats[2], last)
    make_event(today, name="Hill run")
    page = open_log(400)
    choose(page, "Hill run")
    page.get_by_role("button", name="Add the mats of last time").tap()
    tile(page, "K5").tap()
    answered(page)
    assert ticked(page) == ["8", "K5"]


def test_without_signal_mats_are_ticked_all_the_same_and_the_plan_is_asked_for_again(open_log, mats, today):
    event = make_event(today, name="Hill run")
    make_usage_event(mats[0], event, state="planned")
    page = open_log(0)
    page.context.set_offline(True)
    choose(page, "Hill run")
    tile(page, "K5").tap()
    page.get_by_text("could not be looked up").wait_for()
    page.context.set_offline(False)
    page.get_by_role("button", name="Try again").tap()
    answered(page)
    assert ticked(page) == ["4", "K5"]
