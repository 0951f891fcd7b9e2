"""A mat whose number is bare digits is called *mat 6* in sentences, titles, buttons and messages, never *6*.

The numbers of the pool are such that nothing else on a page is one of them.
"""

import re
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from addresses import CLOSED, FILES_OUT, address, make_examples
from conftest import signed_in
from django.utils import timezone
from factories import (
    fit,
    make_event,
    make_fault,
    make_mat,
    make_person,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
)
from page_forms import form_in
from page_words import words_in

from fleet.models import Mat
from fleet.models.mats import mat_name
from fleet.models.trail import at_start
from inspections.assessment.services import assess_pool
from inspections.models import Assessment

# what words a page has; other walks go over every page on both databases
pytestmark = [pytest.mark.django_db, pytest.mark.alike]
FIRST, SECOND, THIRD, FOURTH = NUMBERS = ("70831", "70832", "70833", "70834")
BARE = re.compile(rf"(?<![\w/-])(?:{'|'.join(NUMBERS)})(?![\w-])")
NAMED = re.compile(rf"[Mm]at (?:{'|'.join(NUMBERS)})(?![\w-])")
# A cell stands under a heading, a choice under the question that it answers: there the number alone says enough.
UNDER_A_HEADING = ("td", "option", "textarea", "script")


class _Sentences(HTMLParser):
    """The texts of a page but for what stands under a heading, and what attributes say aloud."""

    def __init__(self):
        super().__init__()
        self.skipped, self.texts, self.ticks = [], [], 0

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag in UNDER_A_HEADING:
            self.skipped.append(tag)
        if tag == "fieldset":
            self.ticks += bool({"ticks", "tiles"} & set((attrs.get("class") or "").split()))
        if not self.skipped:
            self.texts += [attrs[name] for name in ("aria-label", "title", "placeholder") if attrs.get(name)]

    def handle_endtag(self, tag):
        if self.skipped and tag == self.skipped[-1]:
            self.skipped.pop()
        if tag == "fieldset":
            self.ticks = max(self.ticks - 1, 0)

    def handle_data(self, text):
        if not self.skipped and not self.ticks:
            self.texts.append(text)


def bare_numbers(page):
    """What stands around each mat number that is not called a mat."""
    reader = _Sentences()
    reader.feed(page)
    said = " ".join(" ".join(reader.texts).split())
    without = NAMED.sub("", said)
    return [without[max(found.start() - 40, 0) : found.end() + 20] for found in BARE.finditer(without)]


def make_pool():
    """Mats of which one is too old, one holds an open fault, one an empty position, one waits, one is unknown."""
    examples, today = make_examples(), timezone.localdate()
    Mat.objects.filter(number="M-901").update(number=FIRST, number_key=FIRST)
    worn = make_mat(SECOND, fitted=True, fitted_on=today - timedelta(days=1200))
    make_fault(worn, "cover or fold", None, today)
    empty, unknown = make_mat(THIRD), make_mat(FOURTH, design=worn.design)
    fit(make_segment(0.6), unknown, 1, today - timedelta(days=50), fitted_basis="not later than")
    fit(make_segment(0.6, "C-OUT"), unknown, 2, today - timedelta(days=90), today - timedelta(days=5))
    make_reading(worn.fittings.first().segment, 3.9, today - timedelta(days=9))
    for days, state in ((-3, "planned"), (2, "planned"), (9, "called off"), (-20, "went")):
        event = make_event(today + timedelta(days=days), series=make_series(today + timedelta(days=days)))
        for mat in (worn, empty, unknown):
            make_usage_event(mat, event, state=state)
    loan = make_event(today - timedelta(days=60), days=30, code="LOAN")
    make_usage_event(worn, loan, state="planned", counts_for=4)
    make_usage_event(unknown, loan, state="planned", counts_for=4)
    assess_pool(today)
    return examples | {"number": FIRST}


@pytest.fixture(scope="module")
def pool(shared_rows):
    with shared_rows(make_pool) as made:
        yield made


@pytest.fixture
def client(pool):
    return signed_in(make_person("ottilie"))


def pages(examples):
    for name, route in CLOSED:
        if name not in FILES_OUT:
            yield address(route, examples)
    for number in NUMBERS[1:]:
        for route in ("", "correct/", "withdraw/", "faults/report/", "positions/1/fit/", "positions/1/take-out/"):
            yield f"/mats/{number}/{route}"
        yield f"/bench/{number}/"
        yield f"/events/LOAN/mats/{number}/"
        yield f"/work-orders/raise/?mat={number}&mat={FIRST}"
    yield from ("/events/LOAN/back/", "/events/LOAN/", "/events/log/?event=LOAN", "/cables/C-OUT/", "/find/?q=7083")
    for row in Assessment.objects.select_related("segment"):
        yield row.segment.get_absolute_url()


def test_no_page_names_a_mat_by_bare_digits(client, pool):
    said = {}
    named = 0
    for place in pages(pool):
        answer = client.get(place)
        if answer["Content-Type"].startswith("text/html"):
            page = answer.content.decode()
            named += len(NAMED.findall(words_in(page)))
            if found := bare_numbers(page):
                said[place] = found
    assert said == {}
    assert named > 100, "the pages name mats"


def test_a_number_without_its_word_is_found():
    assert bare_numbers(f"<p>Work order for {FIRST}</p>") == [f"Work order for {FIRST}"]
    assert bare_numbers(f"<td>{FIRST}</td><h1>Mat {FIRST}</h1>") == []


@pytest.mark.parametrize(
    ("number", "within", "at_first"),
    [("6", "mat 6", "Mat 6"), ("017", "mat 017", "Mat 017"), ("M-017", "M-017", "M-017"), ("k1", "k1", "k1")],
)
def test_a_mat_in_a_sentence_and_at_its_beginning(number, within, at_first):
    assert (mat_name(number), at_start(mat_name(number)), str(Mat(number=number))) == (within, at_first, within)


def said_after(client, page, **typed):
    """The messages of the page that an act leads to, or why it was refused."""
    answer = client.post(page, form_in(client.get(page)) | typed, follow=True)
    page = answer.content.decode()
    assert bare_numbers(page) == []
    return words_in(page)


def test_messages_and_refusals_name_the_mat(client, today):
    worn = Mat.objects.get(number=SECOND)
    segment = worn.fittings.get(position=1).segment
    fit_again = {"segment": segment.serial, "fitted_on": str(today)}
    out = {"reason": "worn", "goes": "back to the shelf"}
    assert f"Mat {SECOND} is corrected." in said_after(client, f"/mats/{SECOND}/correct/", owner="the quay")
    assert f"Reported: cover or fold of mat {SECOND}." in said_after(
        client, f"/mats/{SECOND}/faults/report/", place="cover or fold"
    )
    assert f"is in mat {SECOND} position 1 since" in said_after(client, f"/mats/{THIRD}/positions/1/fit/", **fit_again)
    took = said_after(client, f"/mats/{SECOND}/positions/1/take-out/", **out)
    assert f"{segment} is out of mat {SECOND} position 1." in took
    assert f"Mat {SECOND} has events on" in said_after(client, f"/mats/{SECOND}/withdraw/", reason="worn")
    others = list(worn.fittings.filter(position__gte=2).select_related("segment"))
    found = {f"found-{others[0].segment.pk}": "0.5"}
    assert f"Mat {SECOND}: 1 reading saved." in said_after(client, f"/bench/{SECOND}/", **found)
    sheet = said_after(client, f"/work-orders/raise/?mat={SECOND}", segments=[row.segment.serial for row in others])
    assert f"for mat {SECOND} " in sheet and f"for mat {SECOND}." in sheet
