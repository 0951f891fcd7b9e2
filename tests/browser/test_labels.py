"""Sheets of labels as they come out of a printer: each code read back from a picture of the paper, in its place."""

import io

import pypdfium2
import pytest
import zxingcpp
from factories import make_design, make_mat
from pypdf import PdfReader

from inspections.labels.grid_choices import READY

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
POOL = "https://pool.example.org"
# of an ordinary office scanner
DOTS_PER_MM = 200 / 25.4
ODD = "Größe W-17 (alt) & Co"

# labels of which a line of text is wider than their outline
BEYOND = """sheet => [...sheet.querySelectorAll("g")].filter(label => {
  const edge = label.querySelector("rect").getBBox();
  return [...label.querySelectorAll("text")].some(line => {
    const box = line.getBBox();
    return box.x < edge.x || box.x + box.width > edge.x + edge.width;
  });
}).map(label => label.textContent.trim())"""


def pictures(pdf):
    """Each page as a scanner sees it."""
    return [page.render(scale=DOTS_PER_MM * 25.4 / 72).to_pil() for page in pypdfium2.PdfDocument(pdf)]


def papers_mm(pdf):
    """{(width, height)} of its pages."""
    points = [leaf.mediabox[2:] for leaf in PdfReader(io.BytesIO(pdf)).pages]
    return {tuple(round(float(point) / 72 * 25.4) for point in size) for size in points}


def read_codes(picture):
    """{what a code says: (x, y) of its middle in mm}."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return {code.text: middle(code.position) for code in found}


def middle(position):
    corners = (position.top_left, position.top_right, position.bottom_right, position.bottom_left)
    return tuple(sum(getattr(corner, axis) for corner in corners) / 4 / DOTS_PER_MM for axis in "xy")


def is_on(grid, place, point):
    x, y = grid.corner(place)
    return x < point[0] < x + grid.width_mm and y < point[1] < y + grid.height_mm


@pytest.mark.parametrize("sheet", ["a4-65", "letter-30"])
def test_every_code_is_read_back_from_the_printed_page_in_its_place(open_page, visitor, settings, sheet):
    settings.POOL_ADDRESS, grid = POOL, READY[sheet]
    design = make_design("hill 6 m")
    mats = [make_mat(number, design) for number in ["6", *(f"M-{n:03}" for n in range(1, grid.size)), ODD]]
    page = open_page(visitor)
    page.goto(f"/labels/print/?what=mats&sheet={sheet}&first=3&copies=1&outlines=on")
    beyond = [label for drawn in page.locator(".label-sheet").all() for label in drawn.evaluate(BEYOND)]
    pdf = page.pdf(prefer_css_page_size=True)
    read = [read_codes(picture) for picture in pictures(pdf)]
    assert beyond == []
    assert papers_mm(pdf) == {tuple(map(round, grid.paper_mm))}
    assert [len(codes) for codes in read] == [grid.size - 2, len(mats) - grid.size + 2]
    found = {address: (number, point) for number, codes in enumerate(read) for address, point in codes.items()}
    # by number, as the list of mats has them
    for place, mat in enumerate(sorted(mats, key=lambda mat: mat.number), start=2):
        number, point = found[POOL + mat.get_absolute_url()]
        assert number == place // grid.size
        assert is_on(grid, place % grid.size, point)
