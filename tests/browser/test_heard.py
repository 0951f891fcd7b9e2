"""What no rule of axe sees: headings of cells on the phone, where the focus goes, what is announced."""

import pytest
from axe import look, open_folds
from django.urls import reverse
from django.utils import timezone
from factories import make_mat

from inspections.assessment.services import assess_pool
from inspections.choices import Stage
from inspections.models import AssessmentRun

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TARGETS = {"runOnly": ["target-size"], "resultTypes": ["violations", "incomplete"]}
AT_THE_DESK = ("/cables/", "/cable-types/", "/designs/", "/due/", "/mats/M-017/")
# keeps what the live region comes to hold
LISTEN = """() => {
  const region = document.querySelector("#assessing-said[role=status]");
  window.said = [];
  new MutationObserver(() => said.push(region.innerText)).observe(region, {childList: true, subtree: true});
}"""
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
TABLES = ("/work-orders/raise/?mat=M-017", "/mats/", "/cables/", "/designs/", "/mats/M-017/")
# {name of the table: how many cells each of its rows has}, as they are in the tree that screen readers are given
CELLS = """() => [...document.querySelectorAll("main [role=table]")].map(table => {
  const isGone = cell => getComputedStyle(cell).display === "none" || getComputedStyle(cell).visibility === "hidden";
  const rows = [...table.querySelectorAll("[role=row]")].filter(row => row.offsetParent !== null);
  return [table.ariaLabel, [...new Set(rows.map(row => [...row.cells].filter(cell => !isGone(cell))
    .reduce((sum, cell) => sum + cell.colSpan, 0)))]];
})"""


@pytest.fixture
def pool(today):
    for number in ("M-017", "M-018"):
        make_mat(number, fitted=True, fitted_on=today.replace(year=today.year - 4))
    assess_pool(today)


def test_on_a_phone_each_cell_stands_below_its_own_heading(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    for place in TABLES:
        page.goto(place)
        found = page.evaluate(CELLS)
        assert any(widths for _, widths in found) and all(len(widths) <= 1 for _, widths in found), (place, found)
        assert page.locator("main td[data-label*='<']").count() == 0  # a heading in words alone
        heads = page.locator("main [role=columnheader]").all_text_contents()
        assert heads and all(head.strip() for head in heads), place


def test_a_cell_out_of_sight_is_heard_and_never_tabbed_to(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/mats/M-017/")
    table = page.get_by_role("table", name="Positions of M-017")
    heads = [" ".join(each.split()) for each in table.get_by_role("columnheader").all_text_contents()]
    row = table.get_by_role("row").nth(1)
    assert len(heads) == row.get_by_role("cell").count() > 4
    unseen = page.locator("main .table tbody .at-desk :is(a, button, summary, input):visible")
    assert unseen.count() == 0


def test_ticking_by_numbers_keeps_the_focus_and_says_the_count(open_page, keeper, pool):
    page = open_page(keeper)
    page.goto("/events/log/")
    page.get_by_label("Mat numbers").fill("17 18")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    said = page.locator("[role=status][data-chosen]")
    said.filter(has_text="2 chosen").wait_for()
    assert page.evaluate("document.activeElement !== document.body")


def test_without_a_script_ticking_by_numbers_goes_on_among_the_mats(open_page, keeper, pool):
    page = open_page(keeper, java_script_enabled=False)
    page.goto("/events/log/")
    page.get_by_label("Mat numbers").fill("17 18")
    page.get_by_role("button", name="Tick", exact=True).press("Enter")
    page.wait_for_url("**#log-mats")
    assert page.locator("main [name=mats]:checked").count() == 2
    page.keyboard.press("Tab")
    assert page.locator("section:has(#log-mats) :focus").count() == 1


def test_each_step_of_an_assessment_is_said_once(open_page, keeper, pool, today):
    run = AssessmentRun.objects.create(assessed_on=today, segments=8, stage=Stage.READING)
    page = open_page(keeper)
    page.goto(reverse("inspections:policy-progress", args=[run.pk]))
    page.evaluate(LISTEN)
    page.get_by_text("2 seconds so far").wait_for()
    assert page.evaluate("said") == []
    AssessmentRun.objects.update(stage=Stage.DONE, finished_at=timezone.now())
    page.locator("#assessing .lead").get_by_text("Done: 8 cables assessed.").wait_for()
    assert page.evaluate("said") == ["Done: 8 cables assessed."]


def test_at_the_desk_no_target_is_too_small_nor_covered_by_what_opens(open_page, keeper, pool):
    page = open_page(keeper)
    for place in AT_THE_DESK:
        page.goto(place)
        open_folds(page)
        assert look(page, TARGETS)[0] == [], place
        menu, main = (page.locator(each).bounding_box() for each in (".account-menu", "main"))
        assert menu["y"] + menu["height"] <= main["y"], place


def test_what_an_act_did_is_announced_where_it_led(open_page, keeper, pool):
    page = open_page(keeper)
    page.goto("/mats/M-017/notes/add/")
    page.get_by_role("textbox").first.fill("Cover is worn at the feed end")
    page.locator("main form button").last.press("Enter")
    page.wait_for_url("**/mats/M-017/**")
    assert page.locator("main :is([role=status], [role=alert])").first.inner_text().strip()


def test_a_refused_form_leads_to_the_first_field_to_mend(open_page, keeper, pool):
    page = open_page(keeper)
    page.goto("/mats/add/")
    page.evaluate("document.querySelector('main form').noValidate = true")
    page.locator("main form button").last.press("Enter")
    page.locator("[role=alert]").first.wait_for()
    wrong = page.locator("[aria-invalid=true]").first
    assert wrong.get_attribute("aria-describedby")
    texts = [page.locator(f"#{each}").inner_text() for each in wrong.get_attribute("aria-describedby").split()]
    assert any(text.strip() for text in texts)
    assert page.evaluate("document.activeElement !== document.body")
