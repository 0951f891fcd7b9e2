"""A phone that is signed in by the link on the sheet at the gate."""

from datetime import timedelta

import pytest
from factories import make_event, make_mat

from fleet.models import LogLink, UsageEvent

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def make_address(page):
    """What the sheet says that a keeper has just made."""
    page.goto("/people/")
    page.get_by_role("link", name="Links for phones").click()
    page.get_by_role("link", name="Make a link").click()
    page.get_by_label("Name").fill("gate phone")
    page.get_by_role("button", name="Make the link").click()
    page.get_by_role("img", name="The address below as a QR code").wait_for()
    return page.locator(".link-address").inner_text()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_phone_that_opens_the_address_logs_an_event_and_can_do_nothing_else(open_page, keeper, today, scripts):
    mat, event = make_mat(), make_event(today - timedelta(days=1), name="Hill run")
    address = make_address(open_page(keeper))
    page, sent = open_page(**PHONE, java_script_enabled=scripts), []
    page.on("request", lambda request: sent.append((request.url, request.all_headers().get("referer", ""))))
    page.goto(address)
    page.get_by_role("button", name="Sign in to log events").tap()
    page.wait_for_url("**/events/log/")
    page.get_by_text(mat.number, exact=True).tap()
    page.get_by_text("Hill run").tap()
    page.get_by_role("button", name="Log the event").tap()
    page.wait_for_url(f"**/events/{event.code}/")
    usage = UsageEvent.objects.get(event=event, mat=mat)
    assert (usage.state, usage.recorded_by.username) == ("went", "gate-phone")
    for place in ("/people/", "/people/links/", "/bench/", "/events/add/", "/people/password/"):
        assert page.goto(place).status == 403
        page.get_by_text("Nothing was changed.").wait_for()
    secret = address.split("/")[-2]
    assert [url for url, referer in sent if secret in referer] == []


def test_a_phone_is_out_with_the_next_page_after_the_keeper_withdrew_its_link(open_page, keeper):
    desk, phone = open_page(keeper), open_page(**PHONE)
    address = make_address(desk)
    phone.goto(address)
    phone.get_by_role("button", name="Sign in to log events").tap()
    phone.wait_for_url("**/events/log/")
    desk.goto("/people/links/")
    desk.get_by_role("link", name="Withdraw gate phone").click()
    desk.get_by_text("1 phone signed in by it is signed out.").wait_for()
    desk.get_by_role("button", name="Withdraw it").click()
    desk.get_by_text("gate phone is withdrawn.").wait_for()
    assert LogLink.objects.get().withdrawn_by == keeper
    phone.reload()
    assert "/sign-in/" in phone.url
    phone.goto(address)
    phone.get_by_text("Ask the keeper for a new one.").wait_for()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_for_the_gate_is_one_page_of_paper(open_page, keeper, paper):
    page = open_page(keeper)
    make_address(page)
    assert page.pdf(format=paper).count(b"/Type /Page\n") == 1
