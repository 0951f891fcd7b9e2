"""A mat on a phone: a line a position, and the acts of a position behind one button that names it."""

import re
from datetime import timedelta

import pytest
from factories import make_mat, make_reading
from page_words import words_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(bench_client, today):
    mat = make_mat("M-017", fitted=True, fitted_on=today - timedelta(days=300))
    make_reading(mat.fittings.get(position=2).segment, 3.41, today - timedelta(days=3), temperature_c=20)
    return bench_client.get("/mats/M-017/").content.decode()


def test_a_line_says_number_status_length_and_loss_and_its_bar_grows_with_the_cable(page):
    ladder = re.search(r'<ol class="ladder".*?</ol>', page, re.DOTALL).group()
    lines = re.findall(r"<li.*?</li>", ladder, re.DOTALL)
    assert [words_in(line) for line in lines[:2]] == ["1 ok 0.60 m not measured", "2 change now 1.10 m 3.41 dB"]
    shares = [float(re.search(r"M0 2H([\d.]+)", line).group(1)) for line in lines]
    lengths_m = [float(re.search(r"([\d.]+) m\b", words_in(line)).group(1)) for line in lines]
    assert [share / shares[0] for share in shares] == pytest.approx(
        [length_m / lengths_m[0] for length_m in lengths_m], rel=0.01
    )
    assert max(shares) == pytest.approx(100)


def test_each_position_has_one_button_for_its_acts(page):
    menus = re.findall(r'<details class="row-menu".*?</details>', page, re.DOTALL)
    of_positions = [words_in(menu) for menu in menus if "Acts for position" in menu]
    assert [said.startswith(f"… Acts for position {number} Change") for number, said in enumerate(of_positions, 1)] == [
        True
    ] * 4
    assert all("Take out" in said and "Fault" in said for said in of_positions)
