"""What no rule of axe sees: headings of cells on the phone, where the focus goes, what is announced."""

import pytest
from factories import make_mat

from inspections.assessment.services import assess_pool

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
TABLES = ("/mats/", "/cables/", "/designs/", "/mats/M-017/")
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
        assert found and all(len(widths) == 1 for _, widths in found), (place, found)


def test_a_cell_out_of_sight_is_heard_and_never_tabbed_to(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    page.goto("/mats/M-017/")
    table = page.get_by_role("table", name="Positions of M-017")
    heads = [" ".join(each.split()) for each in table.get_by_role("columnheader").all_text_contents()]
    row = table.get_by_role("row").nth(1)
    assert len(heads) == row.get_by_role("cell").count() > 4
    unseen = page.locator("main .table tbody .at-desk :is(a, button, summary, input):visible")
    assert unseen.count() == 0


def test_each_row_says_its_columns_without_an_empty_heading(open_page, keeper, pool):
    page = open_page(keeper, **PHONE)
    for place in TABLES:
        page.goto(place)
        heads = page.locator("main [role=columnheader]").all_text_contents()
        assert heads and all(head.strip() for head in heads), place
