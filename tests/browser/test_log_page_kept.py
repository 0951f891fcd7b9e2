"""The log page is never drawn anew under somebody's hands, and logs no mat that was only looked for."""

from datetime import timedelta

import pytest
from factories import make_depot, make_design, make_event, make_mat

from fleet.models import UsageEvent

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


def tile(page, number):
    return page.locator(f"label:has(input[name=mats][value='{number}'])")


def choose(page, value):
    page.locator(f"label:has([name=event][value='{value}'])").tap()


def ticked(page):
    return page.eval_on_selector_all("input[name=mats]:checked", "boxes => boxes.map(box => box.value).sort()")


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
