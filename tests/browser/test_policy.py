"""The policy in a real browser: it fits the phone, and a large pool shows how far it is until it is done."""

import pytest
from factories import make_depot, make_design, make_instrument, make_mat

from inspections.assessment.services import reassess
from inspections.models import Assessment

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("address", ["/policy/", "/policy/designs/four metres, wide/", "/instruments/", "/bench/"])
def test_the_page_fits_a_phone(address, open_page, keeper, today):
    make_depot("Hangar 2")
    make_instrument()
    make_mat(design=make_design("four metres, wide"), fitted=True)
    reassess(None, on=today)
    page = open_page(keeper, viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") == 390


@pytest.mark.parametrize("scripts", [True, False])
def test_a_large_pool_shows_how_far_it_is_until_it_is_done(scripts, open_page, keeper, today, settings):
    settings.ASSESS_AT_ONCE = 0
    make_mat(fitted=True)
    reassess(None, on=today)
    page = open_page(keeper, java_script_enabled=scripts)
    page.goto("/policy/")
    page.get_by_label("Event limit", exact=True).fill("7")
    page.get_by_role("button", name="Save the policy").click()
    page.get_by_role("heading", name="Assessing the pool").wait_for()
    page.locator("#assessing").get_by_text("Done: 4 cables assessed").wait_for()
    assert set(Assessment.objects.values_list("event_limit", flat=True)) == {7}
