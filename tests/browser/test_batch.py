"""Forty loose cables judged with the keyboard alone, in a real browser."""

import pytest
from factories import make_batch, make_instrument, make_tester

from inspections.models import BatchValue

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# one over, one too close to the limit, and one that reads like no fresh one
FORTY = [f"1.{15 + number % 7}" for number in range(37)] + ["3.4", "2.95", "1.9"]


@pytest.fixture
def batch(db):
    return make_batch("B-1", instrument=make_instrument("bridge", 0.066))


@pytest.fixture
def keys(open_page, bench_hand, batch):
    """(page of the batch, function that types and presses Enter, presses so far)."""
    page, pressed = open_page(bench_hand), []

    def enter(words):
        page.keyboard.type(words)
        page.keyboard.press("Enter")
        pressed.append(len(words) + 1)

    page.goto("/batches/B-1/")
    return page, enter, pressed


def counts(page, words):
    # forty requests, one after the other, on a machine that may be busy
    page.locator("#batch-count", has_text=words).wait_for(timeout=60_000)


def test_forty_loose_cables_take_forty_values_and_enters_and_nothing_else(keys, batch):
    page, enter, pressed = keys
    page.locator("#id_loss:focus").wait_for()
    for words in FORTY:
        enter(words)
    counts(page, "37 fit, 1 not, 2 to measure again")
    assert page.evaluate("document.activeElement.id") == "id_loss"
    assert sum(pressed) == sum(map(len, FORTY)) + 40
    assert list(batch.values.order_by("cable").values_list("loss_db", flat=True)) == [float(word) for word in FORTY]
    enter("40:1.2")
    counts(page, "38 fit, 1 not, 1 to measure again")
    assert batch.values.filter(cable=40).count() == 2


def test_what_is_refused_comes_back_into_the_field_and_the_next_value_is_kept(keys, batch):
    page, enter, _ = keys
    page.locator("#id_loss:focus").wait_for()
    enter("1.3x")
    page.locator(".field-error", has_text="is not a loss").wait_for()
    assert page.locator("#id_loss").input_value() == "1.3x"
    enter("1.3")
    counts(page, "1 fit")
    assert page.locator(".field-error").count() == 0
    enter("29")
    page.get_by_text("Yes, 29 dB was measured").wait_for()
    # the tick stands before the fields
    for _ in range(2):
        page.keyboard.press("Shift+Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    counts(page, "1 fit, 1 not")


def test_nothing_is_lost_while_the_pool_does_not_answer(keys, batch):
    page, enter, _ = keys
    page.route("**/read/", lambda route: route.abort())
    page.locator("#id_loss:focus").wait_for()
    for words in ("1.2", "1.21", "1.22"):
        enter(words)
    page.get_by_text("1.2: not kept yet. It is sent again as soon as the pool answers.").wait_for()
    assert not BatchValue.objects.exists()
    page.unroute("**/read/")
    counts(page, "3 fit")
    assert list(batch.values.order_by("cable").values_list("loss_db", flat=True)) == [1.2, 1.21, 1.22]


def test_an_answer_that_is_lost_on_the_way_stores_its_value_once(keys, batch):
    page, enter, _ = keys
    lost = []

    def answer_once_and_lose_it(route):
        if not lost:
            lost.append(route.fetch())
            route.abort()
        else:
            route.continue_()

    page.route("**/read/", answer_once_and_lose_it)
    page.locator("#id_loss:focus").wait_for()
    enter("1.2")
    counts(page, "1 fit")
    assert batch.values.count() == 1


def test_a_serial_goes_before_its_value_and_keeps_the_focus_then(keys, batch):
    page, enter, _ = keys
    page.locator("#id_loss:focus").wait_for()
    page.keyboard.press("Shift+Tab")
    for number in (1, 2):
        enter(f"X-{number}")
        enter("1.2")
    counts(page, "2 fit")
    assert list(batch.values.order_by("cable").values_list("serial", flat=True)) == ["X-1", "X-2"]


def test_a_go_no_go_tester_takes_one_key_a_cable(keys, batch):
    page, _, _ = keys
    batch.instrument = make_tester(3.0)
    batch.save()
    page.reload()
    page.locator("#id_loss:focus").wait_for()
    page.keyboard.type("wwow")
    counts(page, "3 fit, 1 not")


def test_it_works_without_a_script(open_page, bench_hand, batch):
    page = open_page(bench_hand, java_script_enabled=False)
    page.goto("/batches/B-1/")
    page.fill("#id_loss", "1.2")
    page.press("#id_loss", "Enter")
    counts(page, "1 fit")
    page.fill("#id_loss", "3.x")
    page.press("#id_loss", "Enter")
    page.locator(".field-error", has_text="is not a loss").wait_for()
    assert page.locator("#id_loss").input_value() == "3.x"
