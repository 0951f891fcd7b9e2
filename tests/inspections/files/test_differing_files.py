"""Files sent in the browser whose rows are stored with other values: chosen for each column, then corrected."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from page_forms import form_in
from page_words import words_in
from pool_files import pool_files

from fleet.models import Load, Mat
from fleet.services.register import correct_mat
from inspections.files.loading import load_pool_files

pytestmark = pytest.mark.django_db
OWNERS = "mat,design,owner,acquired_on\nM-1,four,the club,\nM-2,four,the club,2024-03-01\n"


@pytest.fixture
def address(keeper_client, keeper, today):
    """The page of a mats.csv that says more, and something else, than is stored."""
    load_pool_files(pool_files(), by=keeper, on=today, meant=True)
    return keeper_client.post("/files/", {"files": [SimpleUploadedFile("mats.csv", OWNERS.encode())]}).url


def text_of(response):
    return words_in(response.content.decode())


def choose(client, address, **answers):
    named = {f"differ:mats.csv:{column}": answer for column, answer in answers.items()}
    client.post(address, form_in(client.get(address)) | named | {"choose": "yes"})
    return client.get(address)


def store(client, address):
    return client.post(
        address, {name: value for name, value in form_in(client.get(address)).items() if name != "choose"}
    )


def owners():
    return dict(Mat.objects.values_list("number", "owner"))


def test_nothing_is_chosen_unasked(keeper_client, address):
    page = text_of(keeper_client.get(address))
    assert "4 errors, so nothing can be stored" in page, page
    assert "M-1: pool, sent the club" in page
    assert "Store them" not in page


def test_what_is_empty_is_filled_and_what_is_chosen_replaced(keeper_client, address):
    page = choose(keeper_client, address, owner="fill", acquired_on="fill")
    assert "No error: 0 new rows and 1 corrected can be stored" in text_of(page)
    page = choose(keeper_client, address, owner="replace")
    assert "No error: 0 new rows and 2 corrected can be stored" in text_of(page)
    assert store(keeper_client, address).url == f"/files/loads/{Load.objects.latest('pk').pk}/"
    assert owners() == {"M-1": "the club", "M-2": "the club"}
    # an empty cell changes nothing
    assert Mat.objects.exclude(acquired_on=None).count() == 2


def test_choices_that_were_not_looked_at_are_not_stored(keeper_client, address):
    choose(keeper_client, address, owner="fill", acquired_on="fill")
    form = form_in(keeper_client.get(address)) | {"differ:mats.csv:owner": "replace"}
    keeper_client.post(address, form)
    assert owners() == {"M-1": "pool", "M-2": ""}
    assert "2 corrected can be stored" in text_of(keeper_client.get(address))


def test_a_value_that_changed_since_it_was_shown_is_not_replaced(keeper_client, keeper, address, today):
    choose(keeper_client, address, owner="replace", acquired_on="fill")
    form = form_in(keeper_client.get(address))
    correct_mat(Mat.objects.get(number="M-1"), by=keeper, on=today, owner="wren")
    assert "Somebody changed what is stored" in text_of(keeper_client.post(address, form, follow=True))
    assert owners()["M-1"] == "wren"


def test_sent_twice_it_corrects_once(keeper_client, address):
    choose(keeper_client, address, owner="replace", acquired_on="fill")
    form = form_in(keeper_client.get(address))
    first, second = keeper_client.post(address, form), keeper_client.post(address, form)
    assert first.url == second.url
    assert Mat.objects.get(number="M-1").version == 2
