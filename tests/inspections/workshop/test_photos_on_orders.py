"""The sheet of a work order shows the photos of what was reported on its mat when it was raised."""

import re

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from factories import make_due_mat, make_fault, make_photo
from photos import photo_bytes

from fleet.models import FaultPhoto
from fleet.services.photos import take_photo_off
from inspections.workshop.photo_selectors import MOST_ON_A_SHEET
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    return make_due_mat(2, today)


def raised(mat, today):
    (order,) = raise_work_orders([mat.fittings.get(position=1).segment_id], by=None, on=today)
    return order


def shown(client, order):
    """{address: words} of the photos on the page of an order."""
    page = client.get(order.get_absolute_url()).content.decode()
    return dict(re.findall(r'<figure><img src="([^"]+)" alt="([^"]+)"', page))


def test_a_sheet_shows_the_photos_of_faults_that_were_open_then(visitor_client, mat, today):
    wet = make_photo(make_fault(mat, "wet", None, today), b"wet")
    make_photo(make_fault(mat, "cover or fold", None, today, number=2, ended_on=today, end_reason="repair"), b"mended")
    cable = make_photo(make_fault(mat, "cable", 1, today, number=3), b"cable")
    order = raised(mat, today)
    make_photo(cable.fault, b"later")
    assert shown(visitor_client, order) == {
        wet.url: "Photo 1 of mat M-1: wet",
        cable.url: "Photo 2 of mat M-1: cable, position 1",
    }


def test_one_that_was_taken_off_is_on_no_sheet_any_more(visitor_client, keeper, mat, today):
    photos = [make_photo(make_fault(mat, "wet", None, today), content) for content in (b"wet",)]
    order = raised(mat, today)
    with transaction.atomic():
        take_photo_off(photos[0], by=keeper, reason="a face")
    assert shown(visitor_client, order) == {}


def test_there_is_one_row_of_them_on_paper_and_the_rest_is_counted(visitor_client, mat, today):
    fault = make_fault(mat, "wet", None, today)
    for number in range(MOST_ON_A_SHEET + 2):
        make_photo(fault, f"{number}".encode())
    order = raised(mat, today)
    assert len(shown(visitor_client, order)) == MOST_ON_A_SHEET
    assert "2 more on the page of the mat." in visitor_client.get(order.get_absolute_url()).content.decode()


def test_a_sheet_that_stands_alone_holds_the_pictures_themselves(mat, today, tmp_path):
    fault = make_fault(mat, "wet", None, today)
    make_photo(fault, photo_bytes((30, 20)))
    # its file is gone
    make_photo(fault)
    raised(mat, today)
    call_command("work_order", "M-1", out=tmp_path / "sheet.html", verbosity=0)
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert page.count('src="data:image/jpeg;base64,/9j/') == 1
    assert "/photos/" not in page


def test_queries_of_orders_printed_together_do_not_grow_with_their_photos(keeper_client, mat, today):
    fault = make_fault(mat, "wet", None, today)
    make_photo(fault, b"0")
    orders = [raised(mat, today)]

    def asked():
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get("/work-orders/print/")
        return len(queries)

    asked()
    before = asked()
    sheet = orders[0].sheet
    sheet["photos"] += [{"sha256": f"{number:064x}", "of": "wet"} for number in range(5)]
    type(orders[0]).objects.filter(pk=orders[0].pk).update(sheet=sheet)
    FaultPhoto.objects.bulk_create(FaultPhoto(fault=fault, sha256=f"{number:064x}") for number in range(5))
    assert asked() == before
