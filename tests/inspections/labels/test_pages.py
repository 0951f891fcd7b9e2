"""Labels as a person meets them: chosen, refused, laid out; and their addresses, scanned or typed."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, make_design, make_mat, make_person, make_segment

PRINT = "/labels/print/"
ON_A4 = {"what": "mats", "sheet": "a4-21", "first": "1", "copies": "1"}


@pytest.fixture
def two_mats(today):
    design = make_design("hill 6 m", lengths_m=(0.6, 1.1))
    quay, mill = make_depot("Quay Street"), make_depot("Upper Mill")
    return [make_mat("M-001", design, fitted=True, depot=quay), make_mat("M-002", design, fitted=True, depot=mill)]


def names_on(page):
    """Names of the labels in their order, each put together from its lines."""
    groups = re.findall(r"<g>(.*?)</g>", page.content.decode(), re.DOTALL)
    return [unescape("".join(re.findall(r'class="label-name"[^>]*>([^<]*)<', group))) for group in groups]


def asked(client, **values):
    return client.get(PRINT, ON_A4 | values)


def test_every_mat_in_use_has_its_label(visitor_client, two_mats, today):
    make_mat("M-003", withdrawn_on=today, withdrawal_reason="sold")
    page = asked(visitor_client)
    assert names_on(page) == ["M-001", "M-002"]
    assert "2 labels on 1 sheet of A4" in page.content.decode()


def test_labels_are_for_the_mats_that_are_named_or_of_a_depot(visitor_client, two_mats):
    assert names_on(asked(visitor_client, mats="m-002")) == ["M-002"]
    assert names_on(asked(visitor_client, depot="Quay Street")) == ["M-001"]


def test_cables_come_in_the_order_in_which_somebody_meets_them(visitor_client, two_mats):
    serials = [fitting.segment.serial for mat in two_mats for fitting in mat.fittings.order_by("position")]
    assert names_on(asked(visitor_client, what="in-mats")) == serials
    assert names_on(asked(visitor_client, what="in-mats", mats="M-002", copies="2")) == [
        serial for serial in serials[2:] for _ in range(2)
    ]


def test_spares_and_named_cables_have_labels_too(visitor_client, two_mats):
    make_segment(serial="C-9", length_m=1.1)
    make_segment(serial="C-8", length_m=0.6)
    assert names_on(asked(visitor_client, what="shelf")) == ["C-8", "C-9"]
    assert names_on(asked(visitor_client, what="cables", serials="c-9")) == ["C-9"]


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"mats": "M-001, M-777"}, "Not known: M-777."),
        ({"what": "cables"}, "Write the serials of the cables"),
        ({"what": "cables", "serials": "C-777"}, "Not known: C-777."),
        ({"first": "22"}, "A sheet has 21 labels: write 1 to 21."),
        ({"copies": "5"}, "Write 4 or a number below it."),
        ({"sheet": "own"}, "Write it, because another sheet is chosen."),
        ({"sheet": "made up"}, "There is no sheet “made up” in the list."),
        ({"what": "shelf"}, "no mat or cable to make a label for"),
    ],
)
def test_what_cannot_be_printed_is_said_and_what_was_typed_stays(visitor_client, two_mats, values, sentence):
    page = asked(visitor_client, **values)
    text = unescape(page.content.decode())
    assert page.status_code == 200
    assert '<svg class="label-sheet' not in text
    assert sentence in text
    assert 'value="Show' in text or "Show the labels" in text
    for value in values.values():
        assert value in text


OWN = {"sheet": "own", "paper": "Letter", "columns": "2", "rows": "3", "width_mm": "90", "height_mm": "60,5"}
OWN |= {"left_mm": "10", "top_mm": "12"}


def test_a_sheet_that_is_not_listed_is_told_by_a_ruler(visitor_client, two_mats):
    page = asked(visitor_client, **OWN, outlines="on").content.decode()
    assert '<svg class="label-sheet letter"' in page
    assert '<rect class="label-outline" x="10.0" y="12.0" width="90.0" height="60.5"/>' in page
    assert "/labels/paper.css?size=Letter" in page


def test_labels_wider_than_the_paper_are_refused_where_somebody_measured(visitor_client, two_mats):
    page = asked(visitor_client, **OWN | {"columns": "3"}).content.decode()
    # 10 mm and three labels of 90 mm on 215.9 mm
    assert "The labels are 64.1 mm wider than Letter paper. Measure again." in page


def test_the_sheet_of_styles_asks_for_the_whole_paper(visitor_client):
    sizes = {asked: visitor_client.get(f"/labels/paper.css?size={asked}").content for asked in ("A4", "Letter", "x}")}
    assert sizes["Letter"] == b"@page { size: Letter; margin: 0; }\n"
    assert sizes["A4"] == sizes["x}"] == b"@page { size: A4; margin: 0; }\n"


def test_a_label_names_the_address_that_the_keeper_set(visitor_client, two_mats, settings):
    settings.POOL_ADDRESS = "https://pool.example.org"
    text = visitor_client.get(PRINT, ON_A4 | {"mats": "M-001"}).content.decode()
    lines = re.findall(r'class="label-address"[^>]*>([^<]*)<', text)
    assert "".join(lines) == "https://pool.example.org/mats/M-001/"


def test_without_an_address_the_page_says_that_no_phone_gets_there(visitor_client, two_mats, settings):
    settings.ALLOWED_HOSTS = ["*"]
    for path, values in (("/labels/", {}), (PRINT, ON_A4)):
        here, reached = (
            visitor_client.get(path, values, headers={"host": host}) for host in ("127.0.0.1:8000", "192.168.1.20")
        )
        assert "A phone cannot open" in here.content.decode()
        assert "A phone cannot open" not in reached.content.decode()


@pytest.mark.parametrize("typed", ["/mats/M-001/", "/mats/m-001/", "/mats/m-001"])
def test_the_address_of_a_mat_can_be_typed(visitor_client, two_mats, typed):
    page = visitor_client.get(typed, follow=True)
    assert page.status_code == 200
    assert page.context["mat"] == two_mats[0]


def test_the_address_of_a_cable_can_be_typed(visitor_client, today):
    cable = make_segment(serial="FL-2024 7#b")
    assert visitor_client.get("/cables/fl-2024 7%23B/").context["segment"] == cable


def test_who_scans_signed_out_signs_in_and_is_there(client, visitor, two_mats):
    make_person(role="keeper")
    page = client.get("/mats/M-001/", follow=True)
    page = client.post(page.redirect_chain[-1][0], {"username": visitor.username, "password": "muddy-hands-7"})
    assert (page.status_code, page["Location"]) == (302, "/mats/M-001/")


def test_an_address_fills_the_form_in(visitor_client, two_mats):
    page = visitor_client.get("/labels/", {"what": "in-mats", "mats": "M-002"}).content.decode()
    assert "M-002</textarea>" in page
    assert re.search(r'value="in-mats"[^>]* checked', page)
    assert "No labels yet" not in page


def test_more_labels_than_anybody_sticks_are_cut_off_and_counted(visitor_client, two_mats, monkeypatch):
    monkeypatch.setattr("inspections.labels.views.MOST_LABELS", 3)
    page = asked(visitor_client, copies="3")
    assert len(names_on(page)) == 3
    assert "3 more are not here" in page.content.decode()


def test_queries_do_not_grow_with_the_labels(visitor_client, two_mats):
    def queries(**values):
        with CaptureQueriesContext(
            connection,
        ) as sent:
            asked(visitor_client, **values)
        return len(sent)

    few = queries(), queries(what="in-mats"), queries(what="shelf")
    make_segment(serial="C-9")
    queries(what="shelf")
    one = queries(what="shelf")
    for n in range(3, 9):
        make_mat(f"M-00{n}", two_mats[0].design, fitted=True)
        make_segment(serial=f"C-9{n}")
    assert (queries(), queries(what="in-mats"), queries(what="shelf")) == (*few[:2], one)
