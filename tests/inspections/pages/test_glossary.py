"""One page says every word that pages decide by, and every page leads to it."""

import re

import pytest
from page_words import words_in

from fleet.access import ROLES
from inspections.numeric.words import Cause, Status, Verdict


@pytest.fixture
def words(visitor_client):
    """[(word, what it means)], as the page lists them."""
    page = visitor_client.get("/glossary/").content.decode()
    pairs = re.findall(r"<dt>(.*?)</dt>\s*<dd>(.*?)</dd>", page, re.DOTALL)
    return [(words_in(word).strip().lower(), words_in(means)) for word, means in pairs]


def test_every_status_cause_verdict_and_role_is_explained(words):
    explained = {word for word, _ in words}
    wanted = {*map(str, Status), *map(str, Cause), *map(str, Verdict), *ROLES}
    assert wanted - explained == set()


def test_every_explanation_is_short_and_ends(words):
    assert len(words) > 40
    assert [word for word, means in words if not means.endswith(".") or len(means) > 160] == []


def test_no_word_is_explained_twice_but_loss_which_is_also_a_cause(words):
    known = [word for word, _ in words]
    assert sorted({word for word in known if known.count(word) > 1}) == ["loss"]


def test_every_page_leads_to_it_at_the_desk_and_on_the_phone(visitor_client):
    for path in ("/", "/due/", "/no-such-page/"):
        assert visitor_client.get(path).content.decode().count('href="/glossary/"') == 2
