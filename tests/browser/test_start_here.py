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

    def fill_named(self, name, value):
        self.page.locator(f"[name={name}]").fill(value)
        self.count += 1

    def choose_named(self, name, value):
        self.page.locator(f"[name={name}][value='{value}']").check()
        self.count += 1

    def tell(self, mats, numbers, since, when):
        """One group: its numbers, since when, and the day."""
        self.fill_named(mats, numbers)
        group = mats.removesuffix("mats")
        words = {"they were changed": "changed", "never: the mats were bought new": "new"}
        self.choose_named(f"{group}since", words[since])
        self.fill_named(f"{group}when", when)

    def press(self, role, name, then):
        """A button that leads to the same address; `then`: the heading that it brings."""
        self.page.get_by_role(role, name=name).click()
        self.page.get_by_role("heading", name=then).wait_for()
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
        inputs.press("button", "Check these mats", "Are these the mats?")
        inputs.follow("button", "Add 8 mats with 32 cables", "**/start/answer/")
        page.get_by_text("32 to change now.").wait_for()
        inputs.follow("button", "Work order for M-001", "**/work-orders/*/")
        return page, inputs.count

    return get_there


def test_eight_mats_and_nothing_else_end_in_a_printed_work_order(first_order):
    page, inputs = first_order()
    # four for the account, one to begin, seven for the answers, two to see the mats and add them, one for the order
    assert inputs == 15
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
    assert inputs == 15


def test_fourteen_mats_with_three_dates_in_one_run(open_page, keeper):
    """27 inputs in three runs before: three for the build and one for how often each time, the rest as here."""
    page = open_page(keeper)
    page.goto("/start/")
    inputs = Inputs(page)
    inputs.fill("Width of a mat in m", "4")
    inputs.fill("Cables in a mat", "8")
    inputs.fill("Their lengths in m", "about 0,5 to 4")
    inputs.tell("mats", "1-5", "they were changed", "spring 2023")
    inputs.fill("Times a year that a mat usually goes out", "25-30")
    inputs.press("button", "More mats of this kind, with another date", "The same kind, with another date")
    inputs.tell("group2-mats", "6-9", "never: the mats were bought new", "05/2024")
    inputs.press("button", "Add another kind of mat", "Kind 2: what are they?")
    for name, value in (("width_m", "2"), ("cables", "4"), ("lengths_m", "0.5 2"), ("mats", "K1 K2, K3 / K4 und K5")):
        inputs.fill_named(f"kind2-{name}", value)
    inputs.choose_named("kind2-since", "not known")
    inputs.press("button", "Check these mats", "Are these the mats?")
    inputs.follow("button", "Add 14 mats with 92 cables", "**/start/answer/")
    assert Mat.objects.count() == 14
    assert inputs.count == 19
