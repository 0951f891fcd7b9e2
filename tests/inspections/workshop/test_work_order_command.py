"""`work_order MAT --out FILE.html`: raises what is due as the web does, and writes a sheet that stands alone."""

import re
from datetime import date

import pytest
from django.core.management import CommandError, call_command
from factories import make_mat

from inspections.models import WorkOrder

ON = date(2028, 4, 1)


@pytest.fixture
def mat(db):
    return make_mat("M-017", fitted=True, fitted_on=date(2025, 3, 1))


def write(tmp_path, capsys, mat="M-017", on=ON):
    out = tmp_path / "order.html"
    call_command("work_order", mat, "--on", on.isoformat(), "--out", str(out))
    return out.read_text("utf-8"), capsys.readouterr().out


def test_it_raises_an_order_for_what_is_due_and_says_so(mat, tmp_path, capsys):
    page, said = write(tmp_path, capsys)
    assert said == f"W-2028-001 for M-017, 4 cables: raised. Written to {tmp_path / 'order.html'}.\n"
    assert list(WorkOrder.objects.get().lines.values_list("position", flat=True)) == [1, 2, 3, 4]
    assert "3 years old on 1 Mar 2028" in page


def test_asked_again_it_prints_the_order_that_is_open(mat, tmp_path, capsys):
    first, _ = write(tmp_path, capsys)
    again, said = write(tmp_path, capsys)
    assert again == first
    assert "open since 2028-04-01, nothing else is due" in said
    assert WorkOrder.objects.count() == 1


def test_the_file_needs_nothing_beside_it(mat, tmp_path, capsys):
    page, _ = write(tmp_path, capsys)
    assert re.findall(r"<link|<script|src=|href=\"(?!#)|@import|url\(", page) == []
    assert ".order-lines" in page


def test_it_says_when_nothing_is_due(mat, tmp_path, capsys):
    with pytest.raises(CommandError, match="Nothing is due in M-017 on 1 Jan 2026, and no work order is open"):
        write(tmp_path, capsys, on=date(2026, 1, 1))
    assert WorkOrder.objects.count() == 0


def test_a_file_that_is_no_work_order_is_never_overwritten(mat, tmp_path, capsys):
    (tmp_path / "order.html").write_text("<!doctype html><title>My thesis</title>")
    with pytest.raises(CommandError, match="exists already and is no work order"):
        write(tmp_path, capsys)
    assert (tmp_path / "order.html").read_text() == "<!doctype html><title>My thesis</title>"
    assert WorkOrder.objects.count() == 0


def test_an_unknown_mat_and_a_folder_that_is_not_there_end_in_a_sentence(mat, tmp_path, capsys):
    with pytest.raises(CommandError, match="There is no mat M-999"):
        write(tmp_path, capsys, mat="M-999")
    with pytest.raises(CommandError, match="could not be written"):
        call_command("work_order", "M-017", "--on", ON.isoformat(), "--out", str(tmp_path / "none" / "order.html"))
