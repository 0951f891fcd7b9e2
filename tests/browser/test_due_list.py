"""The due list by mat as a keeper has it before the eyes: how much of it is seen at once, and chosen by keyboard."""

from datetime import timedelta

import pytest
from factories import make_mat

from inspections.assessment.services import assess_pool
from inspections.models import WorkOrder, WorkOrderLine

DESK = {"viewport": {"width": 1280, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
# rows that stand on the screen as a whole, above what sticks to its lower edge
WHOLLY_VISIBLE = """(rows) => {
  const bar = document.querySelector(".thumb")?.getBoundingClientRect();
  const end = bar?.height ? bar.top : innerHeight;
  return [...document.querySelectorAll(rows)]
    .map((row) => row.getBoundingClientRect()).filter((row) => row.top >= 0 && row.bottom <= end).length;
}"""
LINES, CABLES = ".by-mat tbody tr:not(.group-head)", ".by-cable tbody tr"
HEIGHTS_OF_HEAD = """() => [...document.querySelectorAll(":is(.due-head, .due-bar) :is(a, summary)")]
  .map((each) => Math.round(each.getBoundingClientRect().height))"""

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mats(db, today):
    """Thirty, each with four cables that are due by age alike."""
    mats = [make_mat(f"M-{number:03}", fitted=True, fitted_on=today - timedelta(days=1200)) for number in range(1, 31)]
    assess_pool(today)
    return mats


def focused(page):
    return page.evaluate("document.activeElement.innerText || document.activeElement.parentElement.innerText")


def test_much_is_seen_at_once_and_a_few_keys_raise_orders(open_page, bench_hand, mats):
    phone = open_page(bench_hand, **PHONE)
    phone.goto("/due/")
    assert phone.evaluate(WHOLLY_VISIBLE, LINES) >= 8
    heights = phone.evaluate(HEIGHTS_OF_HEAD)
    assert len(heights) == 7 and min(heights) >= 44, "room for a thumb on what stands above the list"
    assert phone.evaluate("document.documentElement.scrollWidth") == 390
    phone.goto("/due/?by=cable")
    assert phone.evaluate(WHOLLY_VISIBLE, CABLES) >= 6
    page = open_page(bench_hand, **DESK)
    page.goto("/due/?by=cable")
    assert page.evaluate(WHOLLY_VISIBLE, CABLES) >= 20
    page.goto("/due/")
    assert page.evaluate(WHOLLY_VISIBLE, LINES) >= 25
    page.locator("[data-line]").first.focus()
    page.keyboard.press("Enter")
    assert page.url.endswith("/due/") and page.locator(".action-bar").count() == 0
    for key in ("Space", "ArrowDown", "ArrowDown", "Space"):
        page.keyboard.press(key)
    said = page.locator("[data-choose] [data-said]")
    assert said.inner_text() == "8 cables in 2 mats chosen. Enter goes to the button."
    page.keyboard.press("Enter")
    assert focused(page) == "Work orders for 2 mats"
    assert not WorkOrder.objects.exists(), "a box that is left by Enter raises nothing"
    page.keyboard.press("Enter")
    page.get_by_text("Raised:").wait_for()
    assert [str(order.mat) for order in WorkOrder.objects.order_by("number")] == ["M-001", "M-003"]


def test_a_line_opens_to_its_cables_and_some_of_them_are_chosen(open_page, bench_hand, mats):
    page = open_page(bench_hand, **DESK)
    page.goto("/due/")
    line = page.locator("tr", has=page.get_by_role("link", name="M-002", exact=True))
    line.locator("[data-line]").check()
    line.locator("summary").click()
    line.locator("input[name=segments]").first.uncheck()
    assert line.locator("[data-line]").evaluate("box => [box.checked, box.indeterminate]") == [True, True]
    page.get_by_role("button", name="Work order for 1 mat").click()
    page.get_by_role("heading", name="Work order W-").wait_for()
    assert list(WorkOrderLine.objects.values_list("position", flat=True)) == [2, 3, 4]


def test_without_a_script_enter_leads_to_a_page_that_shows_the_choice(open_page, bench_hand, mats):
    page = open_page(bench_hand, **DESK, java_script_enabled=False)
    page.goto("/due/")
    page.locator("[data-line]").first.check()
    page.locator("[data-line]").first.press("Enter")
    page.get_by_role("heading", name="Raise work orders").wait_for()
    assert page.locator("input[name=segments]:checked").count() == 4
    assert not WorkOrder.objects.exists()
