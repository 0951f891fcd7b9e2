"""The frame at the sizes that people have: long names, narrow and low windows, large text, forced colours."""

from datetime import timedelta

import pytest
from factories import make_cable_type, make_depot, make_design, make_event, make_mat, make_usage_event

pytestmark = pytest.mark.browser
LONG = "The Seven Villages of the Lower Fen Night Half Marathon with Relay and Children’s Mile"
WORD = "Llanfairfenmarkgogerychdrainagecommissioners"
PAGES = (
    *("/", "/due/", "/mats/", "/cables/", "/designs/", "/cable-types/", "/depots/"),
    *("/events/", "/bench/", "/policy/", "/pool/", "/labels/"),
)


@pytest.fixture
def long_names(keeper, today):
    depot = make_depot(f"{WORD} Depot of the Northern Embankment and Old Brickworks")
    design = make_design(f"{LONG[:40]}", cable_type=make_cable_type(f"Fen {WORD} double screened and jacketed"))
    mat = make_mat(f"M-{WORD[:14]}", design=design, depot=depot, fitted=True, owner=f"{WORD} Wheelers")
    event = make_event(today + timedelta(days=9), name=LONG, place=WORD)
    make_usage_event(mat, event, "planned")
    return [*PAGES, mat.get_absolute_url(), event.get_absolute_url(), f"/bench/{mat.number}/"]


def too_wide(page, paths, *widths):
    """{(path, width): by how many px it is wider} of those that scroll sideways."""
    found = {}
    for path in paths:
        page.goto(path)
        for width in widths:
            page.set_viewport_size({"width": width, "height": 800})
            found[path, width] = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return {where: more for where, more in found.items() if more > 0}


def test_no_name_makes_a_page_wider_than_the_phone(open_page, keeper, long_names):
    assert too_wide(open_page(keeper), long_names, 390, 320) == {}


def test_text_twice_as_large_gets_the_layout_of_the_phone(page_of_large_text, keeper, long_names):
    page = page_of_large_text(keeper)
    page.goto("/mats/")
    assert page.evaluate("getComputedStyle(document.body).fontSize") == "32px"
    assert not page.locator(".desk-nav").is_visible()
    assert too_wide(page, ["/due/", long_names[-3], "/bench/"], 1280) == {}


def test_held_sideways_nothing_stays_over_the_page(open_page, keeper, long_names):
    page = open_page(keeper, viewport={"width": 390, "height": 844})
    page.goto("/policy/")
    bars = page.locator(".thumb, .action-bar")
    assert [bar.evaluate("bar => getComputedStyle(bar).position") for bar in bars.all()] == ["sticky", "fixed"]
    page.set_viewport_size({"width": 844, "height": 390})
    assert [bar.evaluate("bar => getComputedStyle(bar).position") for bar in bars.all()] == ["static", "relative"]


def test_with_forced_colours_only_the_place_one_is_at_is_marked(open_page, keeper):
    page = open_page(keeper, forced_colors="active")
    page.goto("/mats/")
    links = page.locator(".desk-nav a, .group-nav a").all()
    seen = "link => getComputedStyle(link).borderBottomColor !== getComputedStyle(document.body).backgroundColor"
    assert [link.inner_text() for link in links if link.evaluate(seen)] == ["Mats", "Mats"]


def test_the_account_opens_by_keyboard_and_gives_the_focus_back(open_page, keeper):
    page = open_page(keeper)
    page.goto("/mats/")
    summary = page.locator(".account > summary")
    summary.focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Files").wait_for()
    page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    assert not page.get_by_role("link", name="Files").is_visible()
    assert summary.evaluate("summary => summary === document.activeElement")
    page.keyboard.press("Enter")
    for _ in range(9):
        page.keyboard.press("Tab")
    assert not page.get_by_role("link", name="Files").is_visible()


def test_a_refused_form_begins_with_what_is_wrong_and_leads_to_the_field(open_page, keeper):
    page = open_page(keeper)
    page.goto("/cable-types/add/")
    page.locator("main form[method=post]").evaluate("form => { form.noValidate = true; }")
    page.get_by_role("button", name="Add").click()
    summary = page.locator(".form-errors")
    summary.wait_for()
    assert page.title().startswith("Error: ")
    assert summary.evaluate("summary => summary === document.activeElement")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    wrong = page.locator("[aria-invalid=true]").first
    assert wrong.evaluate("field => field === document.activeElement")
