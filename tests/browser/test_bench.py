"""Sixteen losses typed at the bench with the keyboard alone, in a real browser."""

import pytest
from factories import make_cable_type, make_design, make_mat

from fleet.models.segments import ASSUMED_CABLE
from inspections.assessment.services import reassess
from inspections.models import Measurement

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FIRST_MAT = ["1,31", "1.42 dB", "-1.53", "no", "1.75", "2,9", "3.4", " 0.98 "]
SECOND_MAT = ["1.1", "1.2", "1.3", "1.4", "1.5", "1.6", "1.7", "1.8"]


@pytest.fixture
def mats(db, today):
    # nobody said which cable it is, so any loss may be typed for it
    lengths_m, cable_type = [0.6, 0.9, 1.2, 1.5, 1.8, 2.1, 2.4, 2.7], make_cable_type(ASSUMED_CABLE)
    design = make_design(lengths_m=lengths_m, cable_type=cable_type)
    mats = [make_mat(number, design=design, fitted=True) for number in ("M-017", "M-018")]
    reassess(None, on=today)
    return mats


def type_and_enter(page, words):
    page.keyboard.type(words)
    page.keyboard.press("Enter")


def focused(page, field):
    """Nobody types before the page has given the field its focus, which without a script comes a little late."""
    page.locator(f"{field}:focus").wait_for()


def losses_of(mat):
    fitted = Measurement.objects.filter(segment__fittings__mat=mat).order_by("segment__fittings__position")
    return list(fitted.values_list("loss_db", flat=True))


def test_sixteen_losses_with_the_keyboard_alone(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    page.goto("/bench/")
    focused(page, "#bench-q")
    type_and_enter(page, "M-017")
    page.wait_for_url("**/bench/M-017/")
    focused(page, "input.figure-field")
    for typed in FIRST_MAT:
        type_and_enter(page, typed)
    page.get_by_text("8 of 8 typed").first.wait_for()
    assert page.evaluate("document.activeElement.innerText") == "Save readings"
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    page.get_by_text("M-017: 8 readings saved. 2 over (position 4, 7), 1 undecided (position 6), 5 within.").wait_for()
    focused(page, "#bench-q")
    type_and_enter(page, "M-018")
    page.wait_for_url("**/bench/M-018/")
    focused(page, "input.figure-field")
    for typed in SECOND_MAT:
        type_and_enter(page, typed)
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    assert losses_of(mats[0]) == [1.31, 1.42, 1.53, None, 1.75, 2.9, 3.4, 0.98]
    assert losses_of(mats[1]) == [1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8]


def test_a_key_pressed_before_the_script_has_come_is_not_lost(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    held = []
    page.route("**/js/bench*.js", lambda route: held.append(route))
    page.goto("/bench/M-017/", wait_until="commit")
    field = page.locator("input.figure-field:focus")
    field.wait_for()
    page.keyboard.type("1")
    while not held:
        page.wait_for_timeout(20)
    held.pop().continue_()
    page.locator(".no-signal").first.wait_for()
    page.keyboard.type(".31")
    assert field.input_value() == "1.31"


def test_each_loss_is_judged_as_soon_as_its_field_is_left_and_stays_as_typed(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    for typed in ("1,31", "2.9", "3.4", "1.3.1"):
        type_and_enter(page, typed)
    verdicts = page.locator("tbody tr .at-verdict")
    # in the order typed, so the last one comes last, however slow the answers are
    verdicts.nth(3).get_by_text("is not a loss").wait_for()
    assert [verdicts.nth(row).inner_text().split()[0] for row in range(3)] == ["within", "undecided", "over"]
    fields = page.locator("tbody tr .at-field .loss-entry:not(.cleaned, .again) input")
    assert [fields.nth(row).input_value() for row in range(4)] == ["1,31", "2.9", "3.4", "1.3.1"]
    page.get_by_text("3 of 8 typed").first.wait_for()


def until(page, holds):
    """Asked from outside again and again: Playwright's own waiting evaluates in the page, which our policy forbids."""
    for _ in range(200):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(50)
    raise AssertionError(holds)


def test_after_an_error_the_first_wrong_field_has_the_focus(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    for typed in ("1.31", "1.3.1", "131", "", "", "", "", ""):
        type_and_enter(page, typed)
    page.keyboard.press("Enter")
    page.get_by_text("Nothing is saved yet").wait_for()
    until(page, "document.activeElement.value?.slice(0, document.activeElement.selectionEnd) === '1.3.1'")
    until(page, "document.activeElement.selectionStart === 0")
    type_and_enter(page, "1.32")
    assert page.evaluate("document.activeElement.value") == "131"
    type_and_enter(page, "1.33")
    for _ in range(5):
        page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    assert losses_of(mats[0]) == [1.31, 1.32, 1.33]


# a page that is on its way to another one answers no question: what it shows is told by itself
TELL = """() => new MutationObserver(() => {
  const said = document.querySelector("main .sent[role=status]");
  if (said?.innerText) console.log(said.innerText);
}).observe(document.body, {childList: true, subtree: true})"""


def test_a_form_that_waits_for_its_answer_says_so(open_page, bench_hand, mats):
    page, held = open_page(bench_hand), []
    page.goto("/bench/M-017/")
    focused(page, "input.figure-field")
    type_and_enter(page, "1.31")
    page.get_by_text("1 of 8 typed").first.wait_for()
    page.route("**/bench/M-017/", lambda route: held.append(route))
    page.evaluate(TELL)
    with page.expect_console_message(lambda message: "The pool is working on it" in message.text):
        page.get_by_role("button", name="Save readings").focus()
        page.keyboard.press("Enter")
    held.pop().continue_()
    page.wait_for_url("**/bench/")
    assert losses_of(mats[0]) == [1.31]


def test_the_column_for_after_cleaning_opens_and_enter_goes_through_it(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    page.get_by_label("Also measured after cleaning").check()
    page.locator("tbody input.figure-field").first.focus()
    for typed in ("2.2", "1.2", "1.4"):
        type_and_enter(page, typed)
    page.get_by_text("2 of 8 typed").first.wait_for()
    page.get_by_role("button", name="Save readings").click()
    page.wait_for_url("**/bench/")
    assert list(Measurement.objects.order_by("pk").values_list("loss_db", "taken")) == [
        (2.2, "as found"),
        (1.2, "after cleaning"),
        (1.4, "as found"),
    ]


def test_without_scripts_everything_is_kept_and_judged_on_sending(open_page, bench_hand, mats):
    page = open_page(bench_hand, java_script_enabled=False)
    page.goto("/bench/M-017/")
    fields = page.locator("tbody tr .at-field .loss-entry:not(.cleaned, .again) input")
    fields.nth(0).fill("1,31")
    fields.nth(1).fill("1.3.1")
    fields.nth(1).press("Enter")
    page.get_by_text("Nothing is saved yet").wait_for()
    assert page.locator("tbody tr .at-verdict").nth(0).inner_text().split()[0] == "within"
    fields.nth(1).fill("no")
    fields.nth(1).press("Enter")
    page.wait_for_url("**/bench/")
    assert losses_of(mats[0]) == [1.31, None]


def test_the_page_fits_a_phone(open_page, bench_hand, mats):
    page = open_page(bench_hand, viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto("/bench/M-017/")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    heights = page.locator(".at-field input:visible").evaluate_all("fields => fields.map(f => f.offsetHeight)")
    assert len(heights) == 8
    assert min(heights) >= 44
