"""Eight mats and nothing else: from an empty pool to a printed work order, in a real browser."""

import io

import pytest
from pypdf import PdfReader

from fleet.models import Mat
from inspections.models import WorkOrder

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
ACCOUNT = {"Name": "mira", "Password": "muddy-hands-7", "Repeat the password": "muddy-hands-7"}
ANSWERS = {
    "Width of a mat in m": "2",
    "Cables in a mat": "4",
    "Their lengths in m": "0,5 2",
    "Mat numbers": "M-001 to M-008",
    "When was that?": "2023",
    "Times a year that a mat usually goes out": "40",
}


class Inputs:
    """Everything that the keeper does: fields filled, choices made, buttons and links followed."""

    def __init__(self, page):
        self.page, self.count = page, 0

    def fill(self, label, value):
        self.page.get_by_label(label).first.fill(value)
        self.count += 1

    def choose(self, label):
        self.page.get_by_label(label).check()
        self.count += 1

    def follow(self, role, name, to):
        self.page.get_by_role(role, name=name).click()
        self.page.wait_for_url(to)
        self.count += 1


@pytest.fixture
def first_order(open_page):
    """The page of the first work order, and how many inputs it took from an empty pool."""

    def get_there(**options):
        page = open_page(**options)
        page.goto("/")
        inputs = Inputs(page)
        for label, value in ACCOUNT.items():
            inputs.fill(label, value)
        inputs.follow("button", "Begin", "**/")
        inputs.follow("link", "Start here", "**/start/")
        for label, value in ANSWERS.items():
            inputs.fill(label, value)
        inputs.choose("they were changed")
        inputs.follow("button", "What is due?", "**/start/answer/")
        assert page.get_by_text("32 to change now.").is_visible()
        inputs.follow("button", "Work order for M-001", "**/work-orders/*/")
        return page, inputs.count

    return get_there


def test_eight_mats_and_nothing_else_end_in_a_printed_work_order(first_order):
    page, inputs = first_order()
    # four for the account, one to begin, eight for the answers, one for the order
    assert inputs == 14
    pages = PdfReader(io.BytesIO(page.pdf(format="A4"))).pages
    text = pages[0].extract_text()
    assert len(pages) == 1
    assert WorkOrder.objects.get().number in text
    for words in ("M-001", "C-00001", "C-00004", "4 cables to change"):
        assert words in text, words


def test_the_same_on_a_phone_and_nothing_sticks_out(first_order):
    page, _ = first_order(**PHONE)
    for place in ("/start/", "/start/answer/", "/due/"):
        page.goto(place)
        assert page.evaluate("document.documentElement.scrollWidth") == 390, place
    assert Mat.objects.count() == 8


def test_without_scripts_too(first_order):
    _, inputs = first_order(java_script_enabled=False)
    assert inputs == 14
