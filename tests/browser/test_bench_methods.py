"""Sixteen readings with one port, and sixteen words of a go/no-go tester, with the keyboard alone in a real browser."""

import pytest
from factories import make_cable_type, make_design, make_instrument, make_mat, make_reading, make_tester

from fleet.models import Fault
from fleet.models.segments import ASSUMED_CABLE
from inspections.assessment.services import reassess
from inspections.models import Assessment, Measurement

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FIRST_SHOWN = ["2.6", "2.8", "3.2", "3,4", "3.6", "5.0", "5.9", "7.0"]
SECOND_SHOWN = ["2.2", "2.4", "2.6", "2.8", "3.0", "3.2", "3.4", "3.6"]


@pytest.fixture
def mats(db, today):
    # nobody said which cable it is, so any loss may be typed for it
    design = make_design(lengths_m=[1.0] * 8, cable_type=make_cable_type(ASSUMED_CABLE))
    mats = [make_mat(number, design=design, fitted=True) for number in ("M-017", "M-018")]
    reassess(None, on=today)
    return mats


def type_and_enter(page, words):
    page.keyboard.type(words)
    page.keyboard.press("Enter")


def focused(page, field):
    page.locator(f"{field}:focus").wait_for()


def open_mat(page, number):
    focused(page, "#bench-q")
    type_and_enter(page, number)
    page.wait_for_url(f"**/bench/{number}/")


def kept_of(mat, *names):
    fitted = Measurement.objects.filter(segment__fittings__mat=mat).order_by("segment__fittings__position", "repeat")
    return list(fitted.values_list(*names))


def until_focus_is(page, holds):
    for _ in range(200):
        if page.evaluate(f"document.activeElement.{holds}"):
            return
        page.wait_for_timeout(50)
    raise AssertionError(holds)


def choose_instrument(page, name, kind):
    """By its first letters; what comes back stands below, and leaves the focus where Tab took it."""
    page.locator("select[name=instrument]").focus()
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.locator(f"[data-kind='{kind}']").wait_for(state="attached")


def test_sixteen_readings_with_one_port_are_judged_by_their_halves(open_page, bench_hand, mats):
    make_instrument("pocket", None, kind="one-port")
    page = open_page(bench_hand)
    page.goto("/bench/")
    open_mat(page, "M-017")
    # a number may mean something else, so the instrument is asked for first, once a session
    focused(page, "select[name=instrument]")
    choose_instrument(page, "pocket", "one-port")
    # nothing is chosen until somebody says it
    assert page.locator("input[name=method]:checked").count() == 0
    until_focus_is(page, "name === 'method'")
    page.keyboard.press("ArrowDown")
    page.get_by_text("Half of it is the loss of the cable.").wait_for()
    page.locator("tbody input.figure-field").first.focus()
    for shown in FIRST_SHOWN:
        type_and_enter(page, shown)
    page.get_by_text("8 of 8 typed").first.wait_for()
    verdict = page.locator("tbody tr .at-verdict")
    verdict.nth(7).get_by_text("7.00 shown, 3.50 dB loss").wait_for()
    assert verdict.nth(2).inner_text().split()[:6] == ["3.20", "shown,", "1.60", "dB", "loss:", "within"]
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    page.get_by_text("M-017: 8 readings saved. 1 over (position 8), 1 undecided (position 7), 6 within.").wait_for()
    open_mat(page, "M-018")
    focused(page, "input.figure-field")
    for shown in SECOND_SHOWN:
        type_and_enter(page, shown)
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    for mat, typed in zip(mats, (FIRST_SHOWN, SECOND_SHOWN), strict=True):
        numbers = [float(text.replace(",", ".")) for text in typed]
        assert kept_of(mat, "loss_db", "method") == [(number, "far end open") for number in numbers]
        rows = Assessment.objects.filter(mat=mat).order_by("position")
        assert [row.loss_db for row in rows] == [number / 2 for number in numbers]


@pytest.mark.parametrize("keys", ["wwowwwow"])
def test_with_a_go_no_go_tester_one_key_fills_a_row_and_goes_on(keys, open_page, bench_hand, mats):
    make_tester(3.0, "tester")
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    focused(page, "select[name=instrument]")
    choose_instrument(page, "tester", "go/no-go")
    page.locator("tbody input.figure-field").first.focus()
    for key in keys:
        page.keyboard.press(key)
    page.get_by_text("8 of 8 typed").first.wait_for()
    assert page.evaluate("document.activeElement.innerText") == "Save readings"
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    open_mat(page, "M-018")
    focused(page, "input.figure-field")
    for key in keys:
        page.keyboard.press(key)
    page.get_by_text("8 of 8 typed").first.wait_for()
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    said = ["within" if key == "w" else "over" for key in keys]
    for mat in mats:
        assert kept_of(mat, "go_no_go", "loss_db", "method") == [(word, None, "through") for word in said]


def test_without_scripts_the_words_are_typed(open_page, bench_hand, mats):
    make_tester(3.0, "tester")
    page = open_page(bench_hand, java_script_enabled=False)
    page.goto("/bench/M-017/")
    page.select_option("select[name=instrument]", label="tester")
    fields = page.locator("tbody tr .loss-entry:not(.cleaned, .again) input")
    fields.nth(0).fill("w")
    fields.nth(1).fill("over")
    fields.nth(1).press("Enter")
    page.wait_for_url("**/bench/")
    assert kept_of(mats[0], "go_no_go") == [("within",), ("over",)]


def test_with_another_instrument_the_same_keys_are_letters(open_page, bench_hand, mats):
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    focused(page, "input.figure-field")
    page.keyboard.press("o")
    assert page.evaluate("document.activeElement.value") == "o"
    page.keyboard.press("Enter")
    page.get_by_text("is what a go/no-go tester says").first.wait_for()


def test_a_button_says_no_signal_and_goes_on(open_page, bench_hand, mats):
    page = open_page(bench_hand, viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto("/bench/M-017/")
    page.locator("button.no-signal").first.tap()
    page.locator("tbody tr .at-verdict").first.get_by_text("no signal").wait_for()
    assert page.locator("tbody input.figure-field").first.input_value() == "no signal"


def test_a_reading_far_off_is_connected_anew_and_its_fault_reported_with_the_keyboard_alone(
    open_page, bench_hand, mats, today
):
    segment = mats[0].fittings.get(position=1).segment
    make_reading(segment, 1.4, today.replace(year=today.year - 1))
    reassess(None, on=today)
    page = open_page(bench_hand)
    page.goto("/bench/M-017/")
    focused(page, "input.figure-field")
    type_and_enter(page, "2.4")
    page.locator("tbody tr .at-verdict").first.get_by_text("more than expected").wait_for()
    again = page.locator("tbody tr .again input:visible")
    assert again.count() == 3
    # Enter had gone on to the next position, and comes back
    until_focus_is(page, "name.startsWith('again1-')")
    for typed in ("2.3", "1.5", "1.4"):
        type_and_enter(page, typed)
    page.get_by_text("Highest and lowest lie 1.00 dB apart: look at its connectors.").wait_for()
    assert [again.nth(row).input_value() for row in range(3)] == ["2.3", "1.5", "1.4"]
    until_focus_is(page, "name.startsWith('found-')")
    page.get_by_label("Flexed at the folds and both connectors while watching").focus()
    page.keyboard.press("Space")
    page.locator("tbody tr select:visible").first.focus()
    page.keyboard.type("moves at a connector")
    page.get_by_role("button", name="Save readings").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/")
    of_today = [tuple(row) for *row, day in kept_of(mats[0], "repeat", "loss_db", "measured_on") if day == today]
    assert of_today == [(1, 2.4), (2, 2.3), (3, 1.5), (4, 1.4)]
    assert list(Fault.objects.values_list("position", "place")) == [(1, "connector")]
