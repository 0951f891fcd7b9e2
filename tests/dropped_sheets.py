"""A keeper's own spreadsheets, dropped at the pages as a new user drops them, and stored as the app proposes."""

import io
from dataclasses import replace

import openpyxl
from django.core.files.uploadedfile import SimpleUploadedFile
from page_forms import form_in
from page_words import words_in

from fleet.models import Load
from fleet.parsing.day_orders import DayOrder
from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.waiting_sheets import keep_waiting_meanings, waiting_workbook


def book_of(**sheets):
    """The bytes of an .xlsx with these sheets, each a list of rows."""
    book = openpyxl.Workbook()
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    del book["Sheet"]
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def text_of(response):
    return words_in(response.content.decode())


def drop(client, content, name="ours.xlsx"):
    """The address of the page *what will be made of it*, of a workbook whose columns mean what the app proposes."""
    file_hash = client.post("/files/", {"files": [SimpleUploadedFile(name, content)]}).url.split("/")[2]
    meanings = propose(waiting_workbook(file_hash), {}, KnownCodes())
    keep_waiting_meanings(file_hash, [replace(meaning, day_order=DayOrder.DAY_FIRST) for meaning in meanings])
    return f"/files/{file_hash}/made/"


def store(client, address, **changes):
    return client.post(address, form_in(client.get(address)) | {"store": "yes"} | changes)


def stored(client, content, name="ours.xlsx"):
    """Drop it, and store it as it is; the Load."""
    address = drop(client, content, name)
    answer = store(client, address)
    assert answer.url.startswith("/files/loads/"), text_of(client.get(address))
    return Load.objects.latest("pk")


def take_back(client, load):
    """Whether the load is taken back, by its page."""
    back = f"/files/loads/{load.pk}/take-back/"
    client.post(back, form_in(client.get(back)) | {"reason": "only tried"})
    load.refresh_from_db()
    return load.taken_back_at is not None
