"""The price list: lines of cables and of sets, and what each page says of them."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from factories import make_cable_type, make_design, make_price
from page_forms import form_in

from fleet.models import Price

pytestmark = pytest.mark.django_db


@pytest.fixture
def thin():
    return make_cable_type("thin")


@pytest.fixture
def four(thin):
    return make_design("four", lengths_m=(0.6, 1.1), cable_type=thin)


def sent(client, page, **typed):
    return client.post(page, form_in(client.get(page)) | typed)


def test_a_price_is_typed_as_people_write_it(keeper_client, keeper, thin):
    answer = sent(
        keeper_client, "/prices/add/", cable_type="thin", length_m="1,6", price="12,5", supplier_number="A-1.6"
    )
    assert (answer.status_code, answer.url) == (302, "/prices/")
    price = Price.objects.get()
    assert (price.what, price.price, price.recorded_by) == ("thin, 1.60 m", Decimal("12.50"), keeper)
    page = keeper_client.get("/prices/").content.decode()
    assert "12.50" in page and "A-1.6" in page and "Price of thin, 1.60 m is added." in page


def test_a_lead_time_for_every_length_needs_no_price(keeper_client, thin):
    assert sent(keeper_client, "/prices/add/", cable_type="thin", lead_time_days="21").status_code == 302
    assert str(Price.objects.get()) == "Price of thin, any length"


def test_a_set_is_priced_as_one(keeper_client, four):
    assert sent(keeper_client, "/prices/add-set/", design="four", price="20").status_code == 302
    assert str(Price.objects.get()) == "Price of the set of four"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"price": ""}, "Write a price, a lead time or a supplier’s number."),
        ({"price": "0"}, "Write a number above 0."),
        ({"price": "-3"}, "Write a number above 0."),
        ({"price": "12.505"}, "two decimals at most"),
        ({"price": "1,234.50"}, "Write an amount, such as 12.50."),
        ({"price": "NaN"}, "Write an amount, such as 12.50."),
        ({"price": "1e30"}, "digits"),
        ({"lead_time_days": "2000"}, "1100"),
        ({"length_m": "0.6004"}, "There is a price of thin, 0.60 m already. Correct that one."),
    ],
)
def test_a_line_that_cannot_be_is_refused_in_words_with_what_was_typed(keeper_client, thin, typed, says):
    make_price(thin, 0.6)
    typed = {"cable_type": "thin", "length_m": "1.1", "price": "7"} | typed
    answer = sent(keeper_client, "/prices/add/", **typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert [answer.context["form"][name].value() for name in typed] == list(typed.values())


def test_the_same_form_sent_twice_adds_one_line(keeper_client, thin):
    form = form_in(keeper_client.get("/prices/add/")) | {"cable_type": "thin", "price": "3"}
    assert [keeper_client.post("/prices/add/", form).status_code for _ in range(2)] == [302, 302]
    assert Price.objects.count() == 1


def test_a_new_price_leaves_the_old_one_in_the_trail(keeper_client, thin):
    price = make_price(thin, 0.6, "12.50")
    assert sent(keeper_client, f"/prices/{price.pk}/correct/", price="13.75").status_code == 302
    page = keeper_client.get("/prices/").content.decode()
    assert "<del>12.50</del> → <ins>13.75</ins>" in page


def test_a_line_that_is_deleted_is_told_among_the_changes(keeper_client, thin):
    price = make_price(thin, 0.6)
    assert sent(keeper_client, f"/prices/{price.pk}/delete/", reason="not made any more").status_code == 302
    assert not Price.objects.exists()
    assert "thin, 0.60 m: deleted: not made any more" in " ".join(
        keeper_client.get("/prices/").content.decode().split()
    )


def test_kinds_that_nobody_priced_lead_to_a_form_that_names_their_lengths(keeper_client, thin, four):
    make_price(thin, 0.6)
    page = keeper_client.get("/prices/")
    (kind,) = page.context["unpriced"]
    assert (kind.cable_type, kind.length_m) == ("thin", 1.1)
    assert "/prices/paste/?cable_type=thin" in page.content.decode()
    form = form_in(keeper_client.get("/prices/paste/?cable_type=thin"))
    assert (form["cable_type"], form["lines"].split()) == ("thin", ["1.1"])


PASTED = "0.6 \n\n1,1\t14,20\tA 1100\n  1.6 m; 15\n"


def test_a_list_is_pasted_as_a_spreadsheet_has_it(keeper_client, thin):
    answer = sent(keeper_client, "/prices/paste/", cable_type="thin", lines=PASTED)
    assert (answer.status_code, answer.url) == (302, "/prices/")
    lines = Price.objects.order_by("length_m").values_list("length_m", "price", "supplier_number")
    assert list(lines) == [(1.1, Decimal("14.20"), "A 1100"), (1.6, Decimal("15.00"), "")]
    assert "2 prices of thin are added." in keeper_client.get("/prices/").content.decode()


@pytest.mark.parametrize(
    ("pasted", "says"),
    [
        ("0.6 12\nlong 14", "Line 2 is no length and price: “long 14”."),
        ("0.6 12.505", "Line 1 is no length and price"),
        ("0.6\n1.1", "No line has a price behind its length."),
        ("0.7 3\n0.6 12", "Line 2: There is a price of thin, 0.60 m already."),
        ("0.7 3\n0.7002 4", "Line 2: There is a price of thin, 0.70 m already."),
        ("0.7 3\n4000 4", "Line 2: A cable length is a number of m from 0.005 to 1000."),
        ("0.7 0", "Line 1: Write a number above 0."),
    ],
)
def test_of_a_list_with_a_wrong_line_nothing_is_kept_but_what_was_pasted(keeper_client, thin, pasted, says):
    make_price(thin, 0.6)
    answer = sent(keeper_client, "/prices/paste/", cable_type="thin", lines=pasted)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert answer.context["form"]["lines"].value() == pasted
    assert Price.objects.count() == 1


def test_a_price_for_any_length_leaves_no_kind_without_one(keeper_client, thin, four):
    make_price(thin)
    assert keeper_client.get("/prices/").context["unpriced"] == []


def refused_by_the_database(**values):
    with transaction.atomic(), pytest.raises(IntegrityError):
        make_price(**values)
    return True


def test_the_database_keeps_one_line_of_each_kind_and_none_of_two(thin, four):
    make_price(thin, 0.6)
    make_price(thin)
    make_price(design=four)
    assert refused_by_the_database(cable_type=thin, length_m=0.6)
    assert refused_by_the_database(cable_type=thin)
    assert refused_by_the_database(design=four)
    assert refused_by_the_database(cable_type=make_cable_type(), design=four)
    assert refused_by_the_database(length_m=0.6)
