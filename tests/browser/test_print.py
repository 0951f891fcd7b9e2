"""The work order on paper: a sheet of A4 or Letter for up to ten cables, a second above, black and white, in a browser.

And the bench, where a sheet is taken along to write on.
"""

import io
import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from factories import (
    make_cable_type,
    make_design,
    make_event,
    make_fault,
    make_mat,
    make_note,
    make_reading,
    make_usage_event,
)
from pypdf import PdfReader

from fleet.models import Load
from inspections.assessment.reasons import Reason
from inspections.assessment.services import assess_pool
from inspections.models import PolicyValue, WorkOrder
from inspections.workshop.services import raise_work_orders

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PAPERS = ("A4", "Letter")
BULK = ("/work-orders/raise/all/", "/work-orders/print/")
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


def order_of(cables, keeper, today, changed=None, **design):
    """An order for the first so many cables of a mat (None: for every one), each with its own length."""
    lengths_m = [round(0.45 + 0.5 * n, 2) for n in range(cables)]
    design = {"width_m": 6.0, "folds_m": [1.0, 2.0, 3.0, 4.0, 5.0], "weight_kg": 36.0, **design}
    mat = make_mat("M-017", make_design(lengths_m=lengths_m, **design), fitted=True)
    make_fault(mat, "connector", 1, reported_on=today)
    fitted = mat.fittings.order_by("position").values_list("segment", flat=True)
    return raise_work_orders(fitted[:changed], by=keeper, on=today)[0]


def pages_of(pdf):
    """The text of each page."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.fixture
def printed(open_page, keeper):
    """{paper: the text of each of its pages}, printed from one look at the order: opening it is most of the work."""

    def print_order(order):
        page = open_page(keeper)
        page.goto(order.get_absolute_url())
        return {paper: pages_of(page.pdf(format=paper)) for paper in PAPERS}

    return print_order


def sheets(printed):
    return {paper: len(pages) for paper, pages in printed.items()}


ONE_SHEET = dict.fromkeys(PAPERS, 1)


@pytest.mark.parametrize("cables", [1, 4, 8, 10])
def test_up_to_ten_cables_fit_on_one_sheet(printed, keeper, today, cables):
    assert sheets(printed(order_of(cables, keeper, today))) == ONE_SHEET


def test_few_of_twelve_cables_leave_room_to_write_by_hand_on_one_sheet(open_page, keeper, today):
    page = open_page(keeper)
    page.goto(order_of(12, keeper, today, changed=4).get_absolute_url())
    page.emulate_media(media="print")
    heights_mm = page.locator("td.hand").evaluate_all("cells => cells.map(cell => cell.offsetHeight / 96 * 25.4)")
    assert min(heights_mm) > 12
    assert sheets({paper: pages_of(page.pdf(format=paper)) for paper in PAPERS}) == ONE_SHEET


def test_ten_cables_fit_on_one_sheet_with_the_letters_of_any_usual_font(open_page, keeper, today):
    """A font that is not installed here tries nothing: another one takes its place."""
    page = open_page(keeper, bypass_csp=True)
    page.goto(order_of(10, keeper, today).get_absolute_url())
    for font in ("DejaVu Sans", "Noto Sans", "Segoe UI"):
        page.add_style_tag(content=f"* {{ font-family: '{font}' !important }}")
        assert len(pages_of(page.pdf(format="Letter"))) == 1, font


def test_ten_cables_with_long_causes_and_unknown_tools_fit_too(printed, keeper, today):
    PolicyValue.objects.create(setting="event_limit", value=1)
    order = order_of(10, keeper, today, cable_type=make_cable_type("flex 50 ohm"))
    order.lines.all().delete()
    event = make_event(today + timedelta(days=9), name="Fenmark Lock and Weir Night Half Marathon")
    make_usage_event(order.mat, event, "planned")
    order = raise_work_orders(order.mat.fittings.values_list("segment", flat=True), by=keeper, on=today)[0]
    assert sheets(printed(order)) == ONE_SHEET


def test_ten_cables_by_a_trend_of_their_kind_and_unknown_tools_fit_too(printed, keeper, today):
    order = order_of(10, keeper, today, cable_type=make_cable_type("flex 50 ohm"))
    trend = Reason("trend", today, value=0.0004, limit=3.0, basis="similar cables", accepted=0.025)
    order.lines.update(reasons=[trend.as_json()])
    assert sheets(printed(order)) == ONE_SHEET


def test_ten_of_twelve_cables_given_to_somebody_fit_too(printed, keeper, today):
    mat = order_of(12, keeper, today).mat
    mat.work_orders.get().lines.all().delete()
    ten = mat.fittings.filter(position__lte=10).values_list("segment", flat=True)
    (order,) = raise_work_orders(ten, by=keeper, on=today, given_to="Odo Fenn", planned_on=today)
    trend = Reason("trend", today, value=0.2, limit=3.0, basis="similar cables", accepted=0.05)
    order.lines.filter(position__in=(2, 3)).update(reasons=[trend.as_json()])
    assert sheets(printed(order)) == ONE_SHEET


LONG = "drops on the left side when it is cold, see the photograph in the binder of the workshop; " * 5


@pytest.mark.parametrize("from_files", [False, True])
def test_ten_cables_with_what_is_known_of_the_mat_fit_too(open_page, keeper, today, from_files):
    mat = order_of(10, keeper, today).mat
    mat.work_orders.get().lines.all().delete()
    for text in (LONG, "short"):
        make_note(mat, text, noted_on=today)
    make_fault(mat, "one of the cables", None, reported_on=today, number=2, what="crackles")
    order = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=keeper, on=today)[0]
    if from_files:
        WorkOrder.objects.filter(pk=order.pk).update(load=Load.objects.create())
        order.lines.update(reasons=[])
    page = open_page(keeper, bypass_csp=True)
    page.goto(order.get_absolute_url())
    page.emulate_media(media="print")
    for font in (None, "DejaVu Sans", "Noto Sans", "Segoe UI"):
        if font:
            page.add_style_tag(content=f"* {{ font-family: '{font}' !important }}")
        for paper in PAPERS:
            (text,) = pages_of(page.pdf(format=paper))
            assert "fault: one of the cables (crackles)" in text and "More on its page." in text
            assert ("not as printed" in text) == from_files


def test_ten_of_twelve_given_to_somebody_with_what_is_known_of_the_mat_fit_in_the_widest_letters(
    open_page, keeper, today
):
    mat = order_of(12, keeper, today).mat
    mat.work_orders.get().lines.all().delete()
    make_note(mat, LONG, noted_on=today)
    ten = mat.fittings.filter(position__lte=10).values_list("segment", flat=True)
    (order,) = raise_work_orders(ten, by=keeper, on=today, given_to="Odo Fenn", planned_on=today)
    page = open_page(keeper, bypass_csp=True)
    page.goto(order.get_absolute_url())
    page.add_style_tag(content="* { font-family: 'DejaVu Sans' !important }")
    assert len(pages_of(page.pdf(format="Letter"))) == 1


def test_more_than_ten_go_on_to_a_second_sheet_that_names_the_order_again(printed, keeper, today):
    order = order_of(16, keeper, today)
    first, second = printed(order)["A4"]
    assert f"Work order {order}: mat M-017" in first and f"Work order {order}" in second
    assert "Page 1 of 2" in first and "Page 2 of 2" in second
    assert "Signature" in second and "Signature" not in first


@pytest.mark.parametrize("cables", [2, 10])
def test_the_word_caution_covers_no_caution(open_page, keeper, today, cables):
    page = open_page(keeper)
    page.goto(order_of(cables, keeper, today).get_absolute_url())
    page.emulate_media(media="print")
    word, first = (page.locator(f".frame-caution {name}").first.bounding_box() for name in ("h2", "li"))
    assert word["y"] + word["height"] <= first["y"]


def test_orders_printed_as_one_document_have_each_its_own_sheet_behind_what_all_need(open_page, keeper, today):
    orders = [order_of(10, keeper, today)]
    small = make_mat("M-018", make_design(lengths_m=[0.45, 0.95]), fitted=True)
    orders += raise_work_orders(small.fittings.values_list("segment", flat=True), by=keeper, on=today)
    page = open_page(keeper)
    page.goto("/work-orders/print/")
    for paper in PAPERS:
        front, *sheets_of_orders = pages_of(page.pdf(format=paper))
        assert "2 work orders, 12 cables to change" in front and "M-017" in front and "M-018" in front
        assert "Caution" not in front
        for order, text in zip(orders, sheets_of_orders, strict=True):
            assert f"Work order {order}: mat {order.mat.number}" in text and "Signature" in text
            # and its number once more at the foot of the page
            assert text.count(f"Work order {order}") == 2


def test_a_number_of_any_signs_stands_at_the_foot_of_its_page(printed, keeper, today):
    order = order_of(2, keeper, today)
    order.number = 'W "7" {a} \\é'
    order.save()
    for pages in printed(order).values():
        (page,) = pages
        assert page.count(f"Work order {order.number}") == 2


def test_the_sheet_counts_its_pages(printed, keeper, today):
    for pages in printed(order_of(2, keeper, today)).values():
        (page,) = pages
        assert "Page 1 of 1" in page


def test_the_sheet_is_black_and_white_and_holds_no_buttons(open_page, keeper, today):
    page = open_page(keeper, color_scheme="dark")
    page.goto(order_of(4, keeper, today).get_absolute_url())
    page.emulate_media(media="print")
    colours = page.evaluate(
        """() => [...document.querySelectorAll('.paper *')].map(e => getComputedStyle(e)).flatMap(
             s => [s.color, s.backgroundColor, s.borderTopColor, s.fill, s.stroke])"""
    )
    channels = [re.findall(r"\d+", colour)[:3] for colour in set(colours) if colour.startswith("rgb")]
    assert channels and all(len(set(rgb)) == 1 for rgb in channels)
    assert page.locator(".paper-tools").is_hidden()


def test_the_file_of_the_command_prints_on_one_sheet_without_a_server(chromium, keeper, today, tmp_path):
    order_of(10, keeper, today)
    out = tmp_path / "order.html"
    call_command("work_order", "M-017", "--on", today.isoformat(), "--out", str(out))
    page = chromium.new_context().new_page()
    page.goto(out.as_uri())
    assert len(pages_of(page.pdf(format="Letter"))) == 1
    page.context.close()


def test_the_bench_page_of_twelve_cables_is_one_sheet_to_write_on(open_page, keeper, today):
    mat = make_mat("M-017", make_design(lengths_m=[round(0.45 + 0.5 * n, 2) for n in range(12)]), fitted=True)
    for fitting in mat.fittings.all():
        make_reading(fitting.segment, 2.82, today - timedelta(days=40))
    assess_pool(today)
    page = open_page(keeper)
    page.goto(f"/bench/{mat.number}/")
    for paper in PAPERS:
        (text,) = pages_of(page.pdf(format=paper))
        assert text.count("2.82 dB") == 12
        assert "Moves when" in text and "Remark" in text and "optional" not in text
    page.emulate_media(media="print")
    heights_mm = page.locator("td.hand").evaluate_all("cells => cells.map(cell => cell.offsetHeight / 96 * 25.4)")
    assert len(heights_mm) == 48 and min(heights_mm) > 9


def test_no_page_scrolls_sideways_on_a_phone(open_page, keeper, today):
    order = order_of(12, keeper, today)
    page = open_page(keeper, **PHONE)
    for address in ("/", "/due/", "/work-orders/", "/work-orders/raise/?mat=M-017", *BULK, order.get_absolute_url()):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, address


def test_the_bar_counts_what_is_chosen(open_page, keeper, today):
    mat = make_mat("M-020", fitted=True, fitted_on=today - timedelta(days=1200))
    page = open_page(keeper)
    page.goto("/due/?by=cable")
    assert page.locator(".action-bar").count() == 0
    serials = list(mat.fittings.values_list("segment__serial", flat=True))[:2]
    for serial in serials:
        page.locator(f"input[name=segments][value='{serial}']").check()
    assert page.locator("[data-chosen]").inner_text() == "2 cables in 1 mat chosen"
    page.get_by_role("button", name="Work order for 1 mat").click()
    assert page.locator("h1").inner_text() == f"Work order W-{today.year}-001: mat M-020"
