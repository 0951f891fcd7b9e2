"""Logging an event at the course, on a phone."""

from datetime import timedelta

import pytest
from factories import make_depot, make_design, make_event, make_fault, make_mat, make_usage_event
from mat_list_cases import CASES

from fleet.choices import FaultPlace
from fleet.models import Event

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def pool(db):
    design = make_design("two metres")
    depots = [make_depot("Quay Street"), make_depot("Upper Mill")]
    return [
        make_mat(f"M-{number:03d}", design=design, depot=depots[number % 2], fitted=True) for number in range(1, 41)
    ]


def logged(event):
    rows = event.usage_events.order_by("mat__number").values_list("mat__number", "state", "hours_out", "fold_cycles")
    return list(rows)


def test_five_mats_are_logged_on_a_phone_with_six_inputs(open_page, keeper, pool, today):
    last = make_event(today - timedelta(days=21), name="Hill run")
    for mat in pool[:5]:
        make_usage_event(mat, last)
    event = make_event(today - timedelta(days=1), name="Hill run", place="Ridge")
    page = open_page(keeper, **PHONE)
    page.goto("/events/")
    # six inputs in all: each line between the waits is one of them
    page.get_by_role("link", name="Log event").tap()
    page.wait_for_url("**/events/log/")
    page.get_by_text(event.code).tap()
    page.get_by_role("button", name="Add the mats of last time").tap()
    page.get_by_text("5 chosen: M-001, M-002, M-003, M-004, M-005").wait_for()
    assert page.locator("[data-chosen-count]").inner_text() == "5 mats chosen"
    page.get_by_label("Hours out").fill("6,5")
    page.get_by_label("Fold cycles").fill("2")
    page.get_by_role("button", name="Log the event").tap()
    page.wait_for_url(f"**/events/{event.code}/")
    page.get_by_text("Logged: 5 mats.").wait_for()
    assert logged(event) == [(f"M-00{number}", "went", 6.5, 2) for number in range(1, 6)]


def test_two_taps_on_the_button_count_once(open_page, keeper, pool, today):
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    page.get_by_label("Name").fill("Gravel ride")
    page.get_by_text("M-007", exact=True).tap()
    page.get_by_role("button", name="Log the event").dblclick()
    page.wait_for_url("**/events/E-*/")
    assert logged(Event.objects.get()) == [("M-007", "went", None, None)]


def test_the_page_fits_a_phone_and_its_targets_fit_a_thumb(open_page, keeper, pool, today):
    make_event(today)
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    assert page.evaluate("[innerWidth, document.documentElement.scrollWidth]") == [390, 390]
    targets = page.locator(
        ".ticks > label:visible, .tiles > label:visible, form[action='/events/log/'] .button:visible:not(.unseen)"
    )
    heights = [box["height"] for box in (targets.nth(number).bounding_box() for number in range(targets.count()))]
    assert len(heights) > 40
    assert min(heights) >= 44


def test_numbers_are_filtered_and_ticked_ones_stay_ticked(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    page.get_by_text("M-031", exact=True).tap()
    page.get_by_label("Mat numbers").fill("m-00")
    shown = page.locator(".tiles > label:has([name=mats]):visible")
    assert shown.count() == 9
    assert page.locator("[data-chosen]").inner_text() == "1 chosen: M-031"


def test_numbers_are_taken_as_they_are_said_and_the_field_says_what_it_understood(open_page, keeper, pool):
    make_fault(pool[20], FaultPlace.WET)
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    field = page.get_by_label("Mat numbers")
    field.fill("17 18 20-24 99")
    shown = page.locator(".tiles > label:visible .tile-number")
    assert sorted(shown.all_inner_texts()) == [f"M-\n{number:03d}" for number in (17, 18, 20, 21, 22, 23, 24)]
    field.press("Enter")
    assert page.locator(".picker-said").inner_text() == (
        "Ticked: M-017, M-018, M-020 to M-024. Should not go: M-021 (wet). No mat has this number: 99. Correct it."
    )
    assert field.input_value() == "99"
    assert page.locator("[data-chosen-short]").inner_text() == "017, 018, 020–024"
    assert page.locator(".tiles > label:visible").count() == len(pool)
    field.fill("m-031")
    page.get_by_role("button", name="Tick", exact=True).tap()
    assert field.input_value() == ""
    page.get_by_role("button", name="Chosen").tap()
    assert page.locator(".tiles > label:visible").count() == 8
    page.locator(".tiles").get_by_text("M-021").tap()
    assert page.locator("[data-chosen-count]").inner_text() == "7 mats chosen"


READ_IN_BROWSER = """cases => cases.map(([pool, text]) => {
  const find = matList.finder(pool, (mat) => mat);
  const { found, unknown, leftOut, excepting } = matList.read(text, find, () => pool.slice(0, -1));
  return [found.sort(), unknown, leftOut, excepting];
})"""


def test_the_browser_reads_each_list_of_the_table_as_the_server_does(open_page, keeper, pool):
    page = open_page(keeper)
    page.goto("/events/log/")
    read = page.evaluate(READ_IN_BROWSER, [(case.pool, case.text) for case in CASES])
    expected = [[sorted(case.names), case.unknown, case.left_out, case.excepting] for case in CASES]
    assert dict(zip([case.text for case in CASES], read, strict=True)) == dict(
        zip([case.text for case in CASES], expected, strict=True)
    )


def test_a_list_that_says_which_did_not_go_ticks_nothing(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    field, said = page.get_by_label("Mat numbers"), page.locator(".picker-said")
    field.fill("1-5 not 4")
    field.press("Enter")
    assert said.inner_text() == "None is ticked for “1-5 not 4”. Write only the numbers that went."
    assert (field.input_value(), page.locator("[data-chosen]").inner_text()) == ("1-5 not 4", "None chosen yet.")
    field.fill("1 bis 3 und 5 (old)")
    field.press("Enter")
    assert said.inner_text() == "Ticked: M-001, M-002, M-003, M-005. Left out, as a note: (old)."
    assert field.input_value() == ""


def test_the_page_that_comes_back_for_a_number_no_mat_has_shows_its_mats(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    page.get_by_label("Name").fill("Hill run")
    field, tiles = page.get_by_label("Mat numbers"), page.locator(".tiles > label:visible")
    field.fill("17 18 99")
    log = page.get_by_role("button", name="Log the event")
    log.tap()
    log.tap()
    page.get_by_text("Not known: 99.").wait_for()
    assert (field.input_value(), page.locator("[data-chosen]").inner_text()) == ("99", "2 chosen: M-017, M-018")
    assert tiles.count() == len(pool)
    field.fill("9")
    assert tiles.count() == 4


def test_what_stands_at_the_thumb_leaves_the_screen_to_the_mats(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    page.locator(".tiles").first.evaluate("tiles => tiles.scrollIntoView({ block: 'end' })")
    field, bar = page.locator(".picker-numbers").bounding_box(), page.locator(".action-bar").bounding_box()
    # both at once are no higher than the bar and the places of the app were before
    assert (field["y"] + field["height"], bar["y"] + bar["height"]) == (bar["y"], 844)
    assert field["height"] + bar["height"] < 116


def test_what_lies_ahead_is_planned_and_the_button_says_so(open_page, keeper, pool, today):
    make_event(today, name="Hill run")
    make_event(today + timedelta(days=3), name="Mill run")
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    button = page.locator("[name=act][value=log]")
    said = [button.inner_text()]
    for words in ("Mill run", "Hill run"):
        page.locator("label:has([name=event])").filter(has_text=words).tap()
        said.append(button.inner_text())
    page.get_by_text("A loan, or only planned").tap()
    page.get_by_label("Only planned so far").check()
    said.append(button.inner_text())
    assert said == ["Log the event", "Plan the event", "Log the event", "Plan the event"]
    page.get_by_label("Only planned so far").uncheck()
    page.get_by_text("Another one: add it").tap()
    page.get_by_label("First day").fill(str(today + timedelta(days=1)))
    page.get_by_label("First day").blur()
    assert button.inner_text() == "Plan the event"


def test_an_event_is_logged_without_any_script(open_page, keeper, pool, today):
    last = make_event(today - timedelta(days=21), name="Hill run")
    make_usage_event(pool[8], last)
    event = make_event(today, name="Hill run")
    page = open_page(keeper, **PHONE, java_script_enabled=False)
    page.goto("/events/log/")
    page.get_by_text(event.code).tap()
    page.get_by_label("Hours out").fill("3")
    page.get_by_label("Mat numbers").fill("M-001 to M-003, M-999")
    page.get_by_role("button", name="Add the mats of last time").tap()
    page.get_by_text("No mat has this number: M-999").wait_for()
    page.get_by_label("Mat numbers").fill("")
    page.get_by_role("button", name="Save the event").tap()
    page.wait_for_url(f"**/events/{event.code}/")
    assert logged(event) == [(f"M-00{number}", "went", 3.0, None) for number in (1, 2, 3, 9)]


def test_typing_the_last_day_of_a_loan_marks_what_should_not_go_by_then(open_page, keeper, today):
    """The mat is sound on the first day; ticks stay."""
    starts_on, due_on = today + timedelta(days=20), today + timedelta(days=50)
    fitted_on = due_on.replace(year=due_on.year - 3, day=min(due_on.day, 28))
    make_mat("M-1", design=make_design("two metres"), fitted=True, fitted_on=fitted_on)
    page = open_page(keeper, **PHONE)
    page.goto("/events/log/")
    page.get_by_label("Name").fill("Winter loan")
    page.get_by_label("First day").fill(str(starts_on))
    page.get_by_text("M-1", exact=True).tap()
    assert page.get_by_text("4 cables due").count() == 0
    page.get_by_label("Last day").fill(str(due_on))
    page.get_by_label("Place").focus()
    page.get_by_text("4 cables due").first.wait_for()
    assert page.get_by_label("M-1").is_checked()
