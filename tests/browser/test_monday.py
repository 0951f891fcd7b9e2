"""Monday morning's first page on a 390 px phone: what waits is answered, one after the other, until nothing is left."""

from datetime import timedelta

import pytest
from factories import make_event, make_fault, make_mat, make_usage_event

from inspections.assessment.services import assess_pool

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def weekend(db, today):
    """A run on Saturday that nobody answered, a loan that came back, a torn cover, and a run still ahead."""
    mats = [make_mat(f"M-00{number}", fitted=True, fitted_on=today - timedelta(days=60)) for number in (1, 2, 3)]
    saturday = make_event(today - timedelta(days=2), name="Canal run", place="Lock 9")
    loan = make_event(today - timedelta(days=40), 39, name="Fen Ridge school")
    for mat in mats[:2]:
        make_usage_event(mat, saturday, "planned")
    make_usage_event(mats[2], loan, "planned")
    make_fault(mats[0], "cover or fold", None, today - timedelta(days=2), what="zip torn")
    make_usage_event(mats[1], make_event(today + timedelta(days=5), name="Fen Half"), "planned")
    assess_pool(today)
    return saturday, loan


def headings(page):
    return page.locator("main h2").all_inner_texts()


def line(page, text):
    """The line of a list that speaks of it."""
    return page.locator(".task-list > li", has_text=text)


def states(event):
    return set(event.usage_events.values_list("state", "counts_for", "basis"))


@pytest.mark.parametrize("java_script_enabled", [True, False])
def test_the_list_is_answered_until_nothing_needs_doing(open_page, keeper, weekend, java_script_enabled):
    saturday, loan = weekend
    page = open_page(keeper, **PHONE, java_script_enabled=java_script_enabled)
    page.goto("/")
    assert headings(page)[:2] == ["Did these events take place?", "On hold"]
    line(page, "Canal run").get_by_role("button", name="Went").tap()
    page.get_by_text("Canal run: 2 mats went.").wait_for()
    assert states(saturday) == {("went", 1, "counted")}
    page.get_by_label("Back? How many events did it go to?").fill("5")
    page.get_by_label("Source").select_option("reported")
    line(page, "Fen Ridge school").get_by_role("button", name="Back").tap()
    page.get_by_text("Fen Ridge school: 1 mat back.").wait_for()
    assert states(loan) == {("went", 5, "reported")}
    assert headings(page)[0] == "On hold"
    line(page, "zip torn").get_by_role("link", name="Close the fault").tap()
    page.get_by_label("repair").tap()
    page.get_by_role("button", name="Close the fault").tap()
    page.get_by_text("Closed: repair.").wait_for()
    page.get_by_role("link", name="Today").tap()
    page.get_by_text("Nothing needs doing today.").wait_for()
    assert headings(page) == ["Out, and should be back", "Next event", "Back-up"]
    page.get_by_role("link", name="Fen Half").wait_for()


def test_the_page_fits_the_phone_and_its_answers_fit_a_thumb(open_page, keeper, weekend):
    page = open_page(keeper, **PHONE)
    page.goto("/")
    assert page.evaluate("[innerWidth, document.documentElement.scrollWidth]") == [390, 390]
    targets = page.locator("main .button:visible, main input:visible, main select:visible")
    boxes = [targets.nth(number).bounding_box() for number in range(targets.count())]
    assert len(boxes) >= 6
    assert min(box["height"] for box in boxes) >= 44
    answer = line(page, "Canal run").get_by_role("button", name="Went").bounding_box()
    assert answer["y"] + answer["height"] <= 844 - 66, "the first answer stands on the first screen, above the bar"
