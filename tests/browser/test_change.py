"""From the due list to an updated mat of eight cables in at most twelve inputs, in a real browser.

An input is a tap, a value that is typed, or a key that leads on; each loss is one, also where all stand in one field.
"""

import pytest
from factories import make_due_mat

from inspections.models import Assessment, Measurement

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
LOSSES = ["0.71", "0,72", "0.73", "0.74", "0.75", "0.76", "0.77", "0.78"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def mat(db, today):
    """Its eight cables are due by age."""
    return make_due_mat(8, today)


class Hands:
    """Does what a person does on a page, and counts it."""

    def __init__(self, page):
        self.page, self.inputs = page, 0

    def tap(self, target):
        self.inputs += 1
        target.tap() if self.page.viewport_size["width"] < 900 else target.click()

    def type(self, *values):
        self.inputs += len(values)
        self.page.keyboard.type(" ".join(values))

    def press(self, key):
        self.inputs += 1
        self.page.keyboard.press(key)


def focused(page, field):
    """Nobody types before the page has given the field its focus."""
    page.locator(f"{field}:focus").wait_for()


def save(page):
    return page.get_by_role("button", name="Save the change")


def assert_changed(page, mat):
    page.get_by_text("M-1: 8 positions changed").wait_for()
    read = Measurement.objects.order_by("segment__fittings__position").values_list("loss_db", flat=True)
    assert list(read) == [0.71, 0.72, 0.73, 0.74, 0.75, 0.76, 0.77, 0.78]
    assert not any(row.is_due for row in Assessment.objects.filter(mat=mat))


@pytest.mark.parametrize("java_script_enabled", [True, False])
def test_on_a_phone_eight_due_cables_are_changed_in_twelve_inputs(open_page, bench_hand, mat, java_script_enabled):
    page = open_page(bench_hand, **PHONE, java_script_enabled=java_script_enabled)
    page.goto("/due/")
    page.locator(".by-mat summary").first.click()
    hands = Hands(page)
    hands.tap(page.get_by_role("link", name="Change cables of M-1").first)
    hands.tap(page.get_by_label("new ones without a serial"))
    hands.tap(page.get_by_label("New ones read, dB, one after the other"))
    hands.type(*LOSSES)
    hands.tap(save(page))
    assert_changed(page, mat)
    assert hands.inputs <= 12


def test_with_the_keyboard_alone_it_takes_one_more(open_page, bench_hand, mat):
    page = open_page(bench_hand)
    page.goto("/due/")
    page.locator(".by-mat summary").first.click()
    hands = Hands(page)
    page.get_by_role("link", name="Change cables of M-1").first.focus()
    hands.press("Enter")
    focused(page, "input[name=all-new]")
    hands.press("ArrowDown")
    hands.press("Enter")
    focused(page, "#id_all-loss")
    hands.type(*LOSSES)
    hands.press("Enter")
    assert page.evaluate("document.activeElement.innerText") == "Save the change"
    hands.press("Enter")
    assert_changed(page, mat)
    assert hands.inputs <= 13


def test_a_quick_hand_does_not_send_a_page_whose_script_is_on_its_way(open_page, bench_hand, mat):
    page, on_its_way = open_page(bench_hand), []
    page.route("**/js/change*.js", lambda route: on_its_way.append(route))
    page.goto("/mats/M-1/change/", wait_until="commit")
    page.wait_for_timeout(500)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    on_its_way.pop().continue_()
    focused(page, "input[name=all-new]")
    page.keyboard.press("Enter")
    focused(page, "#id_all-loss")


def test_enter_goes_to_the_same_field_of_the_next_changed_position_and_then_to_the_button(open_page, bench_hand, mat):
    page = open_page(bench_hand)
    page.goto("/mats/M-1/change/")
    page.locator("#id_change-3").uncheck()
    page.locator("#id_loss-2").focus()
    page.keyboard.type("0.7")
    page.keyboard.press("Enter")
    focused(page, "#id_loss-4")
    page.locator("#change-verdict-2").get_by_text("within").wait_for()
    page.locator("#id_new-8").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.innerText") == "Save the change"


def test_one_that_reads_too_much_says_so_before_it_is_saved(open_page, bench_hand, mat):
    page = open_page(bench_hand, **PHONE)
    page.goto("/mats/M-1/change/")
    page.get_by_label("new ones without a serial").check()
    page.locator("#id_loss-1").fill("2.0")
    page.locator("#id_loss-1").blur()
    page.locator("#change-verdict-1").get_by_text("It reads more than a fresh one").wait_for()
    assert "Clean and measure again" in page.locator("#change-verdict-1").inner_text()
    save(page).tap()
    page.get_by_role("alert").get_by_text("Not good enough to go in").wait_for()
    assert page.locator("#id_loss-1").input_value() == "2.0"
    assert not Measurement.objects.exists()
