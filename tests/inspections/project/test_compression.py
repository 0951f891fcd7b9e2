"""What goes over the line: pages and files compressed, secrets not, and few requests."""

import gzip
import re
from datetime import timedelta

import pytest
from factories import make_design, make_mat
from photos import make_pictures

from inspections.assessment.services import assess_pool
from inspections.project.compression import Compression

ASKS = {"accept-encoding": "gzip, deflate, br"}
FILE = re.compile(r'(?:href|src)="(/static/[^"]+)"')
# goals of a first and of a later view of the due list; what is measured is printed
FIRST_BYTES, LATER_BYTES, REQUESTS = 45_000, 10_000, 6


def body(answer):
    """The bytes that leave, of a page as of a file."""
    # read to its end the client closes it, and leaves the connection of the test open
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


@pytest.fixture
def due_pool(today):
    """Fifty lines and more of the due list."""
    design = make_design()
    for _ in range(15):
        make_mat(design=design, fitted=True, fitted_on=today - timedelta(days=1200))
    assess_pool(today)


def test_a_page_says_the_same_compressed_as_it_does_plainly(keeper_client):
    sent = keeper_client.get("/policy/", headers=ASKS)
    plain = keeper_client.get("/policy/")
    assert (sent["Content-Encoding"], plain.get("Content-Encoding")) == ("gzip", None)
    assert "Accept-Encoding" in plain["Vary"]
    without_token = re.compile(rb'(?:csrfmiddlewaretoken" value="|X-CSRFToken": ")[^"]+')
    assert without_token.sub(b"", gzip.decompress(body(sent))) == without_token.sub(b"", body(plain))


def test_no_page_can_be_told_by_its_length(keeper_client):
    """Django adds some bytes by chance: the same page has several lengths."""
    assert len({len(keeper_client.get("/find/?q=none", headers=ASKS).content) for _ in range(12)}) > 1


def test_the_due_list_is_light_and_asks_for_little(visitor_client, keeper_client, due_pool):
    page = keeper_client.get("/due/", headers=ASKS)
    page_bytes = len(body(page))
    files = sorted(set(FILE.findall(gzip.decompress(page.content).decode())))
    answers = [keeper_client.get(file, headers=ASKS) for file in files]
    assert all("immutable" in answer["Cache-Control"] for answer in answers)
    sizes = {file: len(body(answer)) for file, answer in zip(files, answers, strict=True)}
    print(f"due list: {page_bytes} bytes, then", sizes)
    assert page_bytes <= LATER_BYTES
    assert page_bytes + sum(sizes.values()) <= FIRST_BYTES
    assert 1 + len(files) <= REQUESTS


@pytest.mark.parametrize("file", ["css/all.css", "js/all_page.js", "django_htmx/htmx-2.min.js"])
def test_a_file_is_sent_compressed_to_whoever_takes_it(client, db, file):
    plain, sent = client.get(f"/static/{file}"), client.get(f"/static/{file}", headers=ASKS)
    assert sent["Content-Encoding"] == "gzip"
    whole, small = body(plain), body(sent)
    assert gzip.decompress(small) == whole
    assert len(small) < len(whole) / 2


def test_the_page_that_shows_the_secret_of_a_link_is_not_compressed(keeper_client, log_hand, today):
    form = keeper_client.get("/people/links/add/", headers=ASKS)
    assert form.get("Content-Encoding") is None
    token = re.search(r'name="token" value="([^"]+)"', form.content.decode())[1]
    values = {"name": "Van", "account": log_hand.username, "last_day": today + timedelta(days=9), "token": token}
    made = keeper_client.post("/people/links/add/", values, headers=ASKS)
    secret = re.search(r"http://testserver(/[^<\"\s]+)", made.content.decode())[1]
    assert made.get("Content-Encoding") is None
    opened = keeper_client.get(secret, headers=ASKS)
    assert opened.status_code == 200
    assert opened.get("Content-Encoding") is None


def test_the_page_that_asks_for_the_first_code_is_not_compressed(client, db):
    answer = client.get("/first-account/?code=ABCD", headers=ASKS)
    assert answer.status_code == 200
    assert answer.get("Content-Encoding") is None


def test_a_picture_and_a_zip_go_as_they_are(keeper_client, examples):
    make_pictures()
    for address in (f"/photos/{examples['photos', 'sha256']}.jpg", "/files/export/"):
        answer = keeper_client.get(address, headers=ASKS)
        assert (answer.status_code, answer.get("Content-Encoding")) == (200, None)
        assert body(answer)[:2] in (b"\xff\xd8", b"PK")


def test_a_csv_file_goes_compressed_line_by_line(keeper_client, due_pool):
    sent = keeper_client.get("/due.csv", headers=ASKS)
    assert sent["Content-Encoding"] == "gzip"
    assert gzip.decompress(body(sent)) == body(keeper_client.get("/due.csv"))


def test_compression_stands_outside_of_what_writes_answers(settings):
    own = f"{Compression.__module__}.{Compression.__name__}"
    inner = settings.MIDDLEWARE[settings.MIDDLEWARE.index(own) + 1 :]
    assert "inspections.project.queued_forms.QueuedForms" in inner
    assert "inspections.project.storage_errors.StorageErrors" in inner
