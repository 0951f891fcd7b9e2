"""prices.csv: one line a kind of cable, a type or a set; each test changes one thing in a small pool."""

from datetime import date

import pytest
from factories import make_cable_type, make_price
from pool_files import pool_files

from fleet.intake import LAYOUTS, RULES, check_files, store_files
from fleet.models import Price

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
KEY = "cable_type and length_m and design"
HEADER = "cable_type,length_m,design,price,lead_time_days,supplier_number\n"


def check(rows, **changes):
    return check_files(pool_files(prices=HEADER + rows, **changes), LAYOUTS, RULES, on=ON)


def told(files):
    return [(error.line, error.column, error.expected) for error in files.errors.in_order([x.file for x in LAYOUTS])]


@pytest.mark.parametrize(
    ("rows", "error"),
    [
        ("thin,0.6,four,3,,\n", (2, "cable_type", "an empty cell: design alone is the set")),
        (",0.6,four,3,,\n", (2, "length_m", "an empty cell: design alone is the set")),
        (",0.6,,3,,\n", (2, "cable_type", "a cable_type, or a design for its set")),
        (",,,3,,\n", (2, "cable_type", "a cable_type, or a design for its set")),
        ("thin,0.6,,,,\n", (2, "price", "Write a price, a lead time or a supplier’s number.")),
        ("thin,0.6,,12.505,,\n", (2, "price", "Ensure that there are no more than 2 decimal places.")),
        ("thin,0.6,,3 EUR,,\n", (2, "price", "an amount such as 12.50")),
        ("thin,0.6,,-3,,\n", (2, "price", "an amount such as 12.50")),
        ("thin,0.6,,3,1.5,\n", (2, "lead_time_days", "a whole number such as 4")),
        ("thin,0.6,,3,,\nthin,0.6004,,4,,\n", (3, "length_m", "each length once; line 2: 0.6 m")),
        ("thin,0.6,,3,,\nthin,0.6,,4,,\n", (3, "cable_type", f"each {KEY} once; line 2 has the same")),
        ("thick,0.6,,3,,\n", (2, "cable_type", "a cable_type of cable_types.csv, or one that is stored already")),
        (",,nine,3,,\n", (2, "design", "a design of mat_designs.csv, or one that is stored already")),
    ],
)  # fmt: skip
def test_a_wrong_line_says_where_it_is_and_what_is_expected(rows, error):
    assert told(check(rows)) == [error]


def test_a_length_that_is_stored_but_for_a_hair_is_named():
    make_price(make_cable_type("thin"), 0.6)
    assert told(check("thin,0.6003,,4,,\n", cable_types=None)) == [
        (2, "length_m", "each length once; stored already: 0.6 m")
    ]


def test_lines_that_are_there_are_skipped_sets_too_and_another_price_is_refused_with_both():
    rows = ",,four,40,,\nthin,,,,14,\nthin,0.6,,12.5,,A\n"
    store_files(check(rows), by=None)
    assert Price.objects.count() == 3
    again = check(rows)
    assert not again.errors and not again.table("prices.csv").new.any()
    (error,) = check(rows.replace("40", "41")).errors.in_order()
    assert (error.column, error.found, error.expected) == (
        "price",
        "“41” for none, none, four",
        "“40.00”, as stored; correct it on its page",
    )


def test_decimal_commas_are_read_where_a_semicolon_stands_between_cells():
    text = (HEADER + "thin,0|6,,12|50,,\n").replace(",", ";").replace("|", ",")
    files = check_files(pool_files(prices=text), LAYOUTS, RULES, on=ON)
    store_files(files, by=None)
    assert str(Price.objects.get().price) == "12.50"
