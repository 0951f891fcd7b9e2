"""Addresses beside a depot: what is taken for one, on the page and in files."""

import pytest
from django.core.exceptions import ValidationError
from factories import make_depot, make_mat
from pool_files import pool_files

from fleet.models import Depot
from fleet.validators import check_mail_addresses, mail_addresses
from inspections.files.loading import check_pool_files, load_pool_files

pytestmark = pytest.mark.django_db
CORRECT = "/depots/Quay Street/correct/"


@pytest.mark.parametrize(
    ("text", "addresses"),
    [
        ("", ()),
        ("quay@example.org", ("quay@example.org",)),
        (
            " a@example.org;b@example.org,\tc@example.org a@example.org ",
            ("a@example.org", "b@example.org", "c@example.org"),
        ),
    ],
)
def test_addresses_stand_between_commas_semicolons_or_blanks_each_once(text, addresses):
    check_mail_addresses(text)
    assert mail_addresses(text) == addresses


@pytest.mark.parametrize("text", ["quay", "quay@", "a@example.org, quay", "a@b@example.org", "Quay <a@example.org>"])
def test_what_is_no_address_is_named(text):
    with pytest.raises(ValidationError, match="is no mail address"):
        check_mail_addresses(text)


def test_more_than_ten_are_for_a_mailing_list():
    with pytest.raises(ValidationError, match="10 addresses at most"):
        check_mail_addresses(" ".join(f"p{n}@example.org" for n in range(11)))


def test_a_keeper_writes_them_beside_a_depot_and_what_is_wrong_stays(keeper_client):
    depot = make_depot("Quay Street")
    form = {"name": "Quay Street", "row": depot.pk, "version": depot.version}
    refused = keeper_client.post(CORRECT, form | {"mail": "quay@example.org tam"})
    assert refused.status_code == 422
    assert "“tam” is no mail address" in refused.content.decode()
    assert 'value="quay@example.org tam"' in refused.content.decode()
    keeper_client.post(CORRECT, form | {"mail": "quay@example.org;tam@example.org"})
    depot.refresh_from_db()
    assert depot.mail == "quay@example.org, tam@example.org"
    assert [change.mail for change in depot.history.all()] == [depot.mail, ""]


def test_the_list_names_them_to_keepers_alone_and_says_whether_mail_goes(keeper_client, visitor_client, settings):
    Depot.objects.filter(pk=make_depot("Quay Street").pk).update(mail="quay@example.org")
    make_mat("M-001", depot=make_depot("Upper Mill"))
    settings.MAIL = None
    assert "quay@example.org" not in visitor_client.get("/depots/").content.decode()
    page = keeper_client.get("/depots/").content.decode()
    assert "quay@example.org" in page and "No mail goes out yet" in page
    settings.MAIL = object()
    assert "No mail goes out yet" not in keeper_client.get("/depots/").content.decode()


def test_a_file_of_depots_brings_them_whether_or_not_a_mat_names_them(today):
    depots = "depot,mail\nQuay Street,quay@example.org\nHangar 2,\n"
    load_pool_files(pool_files(depots=depots), by=None, on=today)
    stored = dict(Depot.objects.values_list("name", "mail"))
    # Upper Mill is named by policy.csv
    assert stored == {"Quay Street": "quay@example.org", "Hangar 2": "", "Upper Mill": ""}


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("Quay Street,quay,,", "mail"),
        ("Quay Street,,,lost", "withdrawn_on"),
        ("Quay Street,,2999-01-01,x", "withdrawn_on"),
    ],
)
def test_a_wrong_cell_of_a_depot_is_named(today, row, column):
    files = check_pool_files({"depots.csv": f"depot,mail,withdrawn_on,withdrawal_reason\n{row}\n".encode()}, on=today)
    assert [(error.file, error.line, error.column) for error in files.errors.in_order()] == [("depots.csv", 2, column)]
