"""What came home damaged or wet, told on a phone with two taps, with a photo or without."""

from datetime import timedelta

import pytest
from factories import make_event, make_mat, make_usage_event
from photos import photo_file

from fleet.models import Fault, FaultPhoto

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
THUMB_PX = 44

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def event(today):
    event = make_event(today - timedelta(days=1), name="Oxtarn hill run")
    for number in ("6", "7"):
        make_usage_event(make_mat(number, fitted=True), event)
    return event


@pytest.mark.parametrize("scripts", [True, False])
def test_two_taps_report_a_wet_mat_and_a_photo_takes_no_more(open_page, log_hand, event, tmp_path, scripts):
    picture = tmp_path / "IMG_1.jpg"
    picture.write_bytes(photo_file(size=(900, 600)).read())
    page = open_page(log_hand, **PHONE, java_script_enabled=scripts)
    page.goto(event.get_absolute_url())
    page.get_by_role("link", name="mat 6").tap()
    page.get_by_role("button", name="It is wet").tap()
    page.get_by_text("Reported: mat 6 is wet.").wait_for()
    page.get_by_role("link", name="mat 7").tap()
    page.get_by_label("Photos").set_input_files(picture)
    page.get_by_role("button", name="A cable").tap()
    page.get_by_text("Reported: one of the cables of mat 7.").wait_for()
    assert page.get_by_role("link", name="mat 7").inner_text().split("\n") == ["mat 7", "one of the cables"]
    stored = Fault.objects.order_by("mat__number").values_list("mat__number", "place", "reported_on", "recorded_by")
    assert list(stored) == [
        ("6", "wet", event.ends_on, log_hand.pk),
        ("7", "one of the cables", event.ends_on, log_hand.pk),
    ]
    page.goto("/mats/7/")
    shown = page.get_by_role("img", name="Photo 1 of mat 7: one of the cables")
    shown.scroll_into_view_if_needed()
    until_loaded(page, shown)
    assert FaultPhoto.objects.get().fault.mat.number == "7"


def until_loaded(page, picture):
    for _ in range(50):
        if picture.evaluate("img => img.complete && img.naturalWidth > 0"):
            return
        page.wait_for_timeout(100)
    raise AssertionError("the photo is not shown")


def test_the_buttons_are_for_thumbs_and_enter_in_a_field_presses_none(open_page, log_hand, event):
    page = open_page(log_hand, **PHONE)
    page.goto("/mats/6/faults/report/")
    sizes = page.locator(".taps button").evaluate_all("all => all.map(each => each.getBoundingClientRect().toJSON())")
    assert len(sizes) == 7 and all(min(size["width"], size["height"]) >= THUMB_PX for size in sizes)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_text("Position, words, or another day").tap()
    page.get_by_label("What was seen").fill("soaked")
    page.get_by_label("What was seen").press("Enter")
    page.wait_for_timeout(300)
    assert (page.url.endswith("/report/"), page.get_by_label("What was seen").input_value()) == (True, "soaked")
    assert not Fault.objects.exists()
