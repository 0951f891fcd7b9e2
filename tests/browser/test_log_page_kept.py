"""The log page is never drawn anew under somebody's hands, and logs no mat that was only looked for."""

from datetime import timedelta

import pytest
from factories import make_depot, make_design, make_event, make_fault, make_mat, make_usage_event

from fleet.models import Event, UsageEvent

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mats(db):
    design, depot = make_design(), make_depot("Quay Street")
    return [make_mat(f"M-{number:03d}", design=design, depot=depot, fitted=True) for number in range(1, 25)]


@pytest.fixture
def log_page(open_page, keeper, mats, today):
    make_event(today - timedelta(days=1), name="Hill run", code="E-HILL")
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    return page


def slow_down(page, latency_ms):
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    values = {"offline": False, "latency": latency_ms, "downloadThroughput": -1, "uploadThroughput": -1}
    line.send("Network.emulateNetworkConditions", values)


def tile(page, number):
    return page.locator(f"label:has(input[name=mats][value='{number}'])")


def choose(page, value):
    page.locator(f"label:has([name=event][value='{value}'])").tap()


def ticked(page):
    return page.eval_on_selector_all("input[name=mats]:checked", "boxes => boxes.map(box => box.value).sort()")


def until(page, holds):
    for _ in range(100):
        if holds():
            return
        page.wait_for_timeout(50)
    raise AssertionError("It did not come about within five seconds.")


def meanwhile(page, *scripts):
    """Done by hand while the answer to the next act is on its way: a test that acts from outside waits for answers."""
    page.evaluate("scripts => scripts.forEach(([step, value]) => setTimeout(window.steps[step], 150, value))", scripts)


@pytest.fixture
def by_hand(log_page):
    log_page.evaluate("""() => {
        window.steps = {
            tick: (number) => document.querySelector(`[name=mats][value="${number}"]`).click(),
            place: (text) => { document.querySelector("[name=place]").value = text; },
            hours: (text) => { document.querySelector("[name=hours_out]").value = text; },
        };
    }""")
    return log_page


@pytest.mark.parametrize("latency_ms", [400, 1500])
def test_enter_in_a_field_draws_nothing_anew(by_hand, latency_ms):
    page = by_hand
    choose(page, "new")
    page.get_by_label("Name").fill("Gravel ride")
    slow_down(page, latency_ms)
    meanwhile(page, ["tick", "M-004"], ["place", "Ridge"])
    page.get_by_label("Name").press("Enter")
    page.wait_for_timeout(2 * latency_ms + 500)
    assert ticked(page) == ["M-004"]
    assert page.get_by_label("Place").input_value() == "Ridge"


@pytest.mark.parametrize("latency_ms", [400, 1500])
def test_values_of_single_mats_are_fetched_without_drawing_anything_anew(by_hand, latency_ms):
    page = by_hand
    choose(page, "new")
    tile(page, "M-004").tap()
    slow_down(page, latency_ms)
    meanwhile(page, ["tick", "M-005"], ["hours", "6"])
    page.get_by_role("button", name="Other values for one mat").tap()
    page.locator("#hours summary").filter(has_text="M-004").wait_for()
    assert ticked(page) == ["M-004", "M-005"]
    assert page.locator("[name=hours_out]").input_value() == "6"


def test_a_number_that_only_narrowed_the_tiles_is_not_logged(log_page):
    choose(log_page, "E-HILL")
    log_page.locator("[name=paste]").fill("1")
    tile(log_page, "M-014").tap()
    log_page.get_by_role("button", name="Log the event").tap()
    log_page.wait_for_url("**/E-HILL/")
    assert list(UsageEvent.objects.values_list("mat__number", flat=True)) == ["M-014"]


def test_numbers_typed_and_not_entered_are_shown_before_they_are_logged(log_page):
    choose(log_page, "E-HILL")
    log_page.locator("[name=paste]").fill("3-5")
    log_page.get_by_role("button", name="Log the event").tap()
    log_page.get_by_text("Ticked: M-003, M-004, M-005. Nothing is sent yet.").wait_for()
    assert ticked(log_page) == ["M-003", "M-004", "M-005"]
    assert not UsageEvent.objects.exists()
    log_page.get_by_role("button", name="Log the event").tap()
    log_page.wait_for_url("**/E-HILL/")
    assert UsageEvent.objects.count() == 3


def place_of(page, number):
    box = tile(page, number).bounding_box()
    return {name: round(value) for name, value in box.items()}


def test_an_answer_moves_no_tile_under_the_thumb(log_page, mats, today):
    make_event(today + timedelta(days=3), name="Canal run", code="E-CANAL")
    log_page.reload()
    for mat in mats[2:9]:
        make_fault(mat, place="wet", reported_on=today)
    slow_down(log_page, 400)
    choose(log_page, "E-CANAL")
    tile(log_page, "M-015").evaluate("tile => scrollTo(0, scrollY + tile.getBoundingClientRect().top - 300)")
    before = place_of(log_page, "M-015")
    until(log_page, lambda: "wet" in tile(log_page, "M-003").inner_text())
    log_page.wait_for_timeout(200)
    assert place_of(log_page, "M-015") == before


def test_a_tick_moves_no_tile_under_the_thumb(log_page):
    last = "M-024"
    tile(log_page, last).evaluate("tile => scrollTo(0, scrollY + tile.getBoundingClientRect().top - 400)")
    before = place_of(log_page, last)
    for number in range(1, 24, 2):
        log_page.evaluate(f"document.querySelector('[name=mats][value=M-{number:03d}]').click()")
    assert log_page.locator("[data-chosen]").inner_text().startswith("12 chosen")
    assert place_of(log_page, last) == before


def test_the_planned_mats_are_offered_only_where_one_of_them_is_not_ticked(log_page, mats):
    make_usage_event(mats[2], Event.objects.get(code="E-HILL"), state="planned")
    offer = log_page.get_by_role("button", name="Tick the planned mats")
    choose(log_page, "E-HILL")
    until(log_page, lambda: ticked(log_page) == ["M-003"])
    assert not offer.is_visible()
    tile(log_page, "M-003").tap()
    assert offer.is_visible()
    offer.tap()
    assert ticked(log_page) == ["M-003"]


def test_a_tapped_mat_that_should_not_go_is_said_with_the_whole_reason(open_page, keeper, mats, today):
    for number, place in enumerate(("wet", "whole mat"), start=1):
        make_fault(mats[2], place=place, reported_on=today, number=number)
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    tile(page, "M-003").tap()
    assert page.locator("[data-picker] [data-said]").inner_text() == "M-003 should not go: wet, damaged."
    tile(page, "M-004").tap()
    assert page.locator("[data-picker] [data-said]").inner_text() == ""


def test_of_many_mats_the_depots_are_folded_and_open_for_the_number_that_is_looked_for(open_page, keeper, mats):
    design, depot = mats[0].design, make_depot("Upper Mill")
    for number in range(100, 140):
        make_mat(f"M-{number}", design=design, depot=depot)
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    assert page.get_by_label("Hours out").bounding_box()["y"] < 2 * PHONE["viewport"]["height"]
    assert not tile(page, "M-117").is_visible()
    page.locator("[name=paste]").fill("117")
    tile(page, "M-117").tap()
    assert not tile(page, "M-117").is_visible()
    assert page.locator("summary").filter(has_text="Upper Mill").inner_text().endswith("40 mats, 1 chosen")
    page.locator("summary").filter(has_text="Upper Mill").tap()
    assert tile(page, "M-139").is_visible()
