"""From the due list to an order, its sheet on paper, told back and signed off, until nothing is due any more."""

import re

import pytest
from factories import make_due_mat, make_plain_design, make_plain_mat

from inspections.models import WorkOrder, WorkOrderLine

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mat(db, today):
    """Its three cables are due by age."""
    return make_due_mat(3, today)


def test_on_a_phone_it_is_raised_told_in_two_sittings_and_signed_off(open_page, bench_hand, mat):
    page = open_page(bench_hand, **PHONE)
    page.goto("/mats/M-1/")
    page.get_by_role("link", name="Work order", exact=True).tap()
    page.get_by_role("button", name=re.compile("Work order")).tap()
    page.get_by_role("heading", name="Work order W-").wait_for()
    assert page.pdf(format="A4").count(b"/Type /Page\n") == 1
    page.get_by_role("link", name="Tell what was done").tap()
    page.get_by_label("new ones without a serial").check()
    page.locator("#id_change-2").uncheck()
    page.locator("#id_change-3").uncheck()
    page.locator("#id_left-3").fill("no spanner")
    page.get_by_label("New ones read, dB, one after the other").fill("0.7")
    page.get_by_role("button", name="Save what was done").tap()
    page.get_by_text("is not done yet: 1 cable to do").wait_for()
    page.get_by_role("link", name="Tell what was done").tap()
    page.get_by_label("new ones without a serial").check()
    page.get_by_role("button", name="Save what was done").tap()
    page.get_by_text("is signed off.").wait_for()
    told = page.locator(".order-lines").inner_text()
    assert "0.70" in told and "Left: no spanner" in told
    page.goto("/due/")
    serials = {row.segment.serial for row in WorkOrderLine.objects.select_related("segment") if row.done_on}
    assert len(serials) == 2 and not any(serial in page.content() for serial in serials)
    assert mat.fittings.get(position=3).segment.serial in page.content()


def test_every_position_ticks_each_row_and_shows_the_button(open_page, bench_hand, today):
    make_plain_mat(make_plain_design(3), number="M-2", fitted=True, fitted_on=today)
    page = open_page(bench_hand)
    page.goto("/work-orders/raise/?mat=M-2")
    button = page.get_by_role("button", name="Work order for 1 mat")
    button.wait_for(state="detached")
    page.get_by_label("Every position of each mat").check()
    page.get_by_text("3 cables in 1 mat chosen").wait_for()
    page.locator("input[name=segments]").first.uncheck()
    assert not page.get_by_label("Every position of each mat").is_checked()
    button.click()
    page.get_by_role("heading", name="Work order W-").wait_for()
    assert WorkOrderLine.objects.count() == 2


def test_with_the_keyboard_alone_it_is_signed_off_at_the_bench(open_page, bench_hand, mat, today):
    page = open_page(bench_hand)
    page.goto("/work-orders/raise/?mat=M-1")
    page.get_by_role("button", name=re.compile("Work order")).focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Tell what was done").focus()
    page.keyboard.press("Enter")
    page.locator("input[name=all-new]:focus").wait_for()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.keyboard.type("0.7 0.8 0.9")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.get_by_text("is signed off.").wait_for()
    assert WorkOrder.objects.get().state_on(today) == "signed off"
    page.goto("/due/")
    assert "M-1" not in page.locator("main").inner_text()
