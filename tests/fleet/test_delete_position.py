"""A position put into a design by mistake is deleted; one that ever held something is not."""

from datetime import timedelta

import pytest
from factories import fit, make_design, make_fault, make_mat, make_segment

from fleet.models import DesignPosition
from fleet.services.designs import add_position, correct_position, delete_position

pytestmark = pytest.mark.django_db
DESIGN = "/designs/four/"


def delete(client, number, **values):
    return client.post(f"{DESIGN}positions/{number}/delete/", {"reason": "typed twice", "version": 1} | values)


def text_of(answer):
    return answer.content.decode()


def test_it_is_struck_with_a_reason_and_stays_in_the_trail(keeper_client, keeper):
    design = make_mat("M-001", design=make_design("four", lengths_m=(0.6, 1.1)), fitted=True).design
    add_position(design, by=keeper, number=33, length_m=1.6, cable_type=design.positions.first().cable_type)
    seen = text_of(keeper_client.get(DESIGN))
    assert [number for number in (1, 2, 33) if f"{DESIGN}positions/{number}/delete/" in seen] == [33]
    wordless = delete(keeper_client, 33, reason="")
    assert wordless.status_code == 422 and design.positions.count() == 3
    assert delete(keeper_client, 33).status_code == 302
    assert list(design.positions.values_list("number", flat=True)) == [1, 2]
    trail = text_of(keeper_client.get(DESIGN))
    assert "Position 33, 1.60 m: deleted: typed twice" in trail and "keeper" in trail
    assert keeper_client.get(f"{DESIGN}positions/33/delete/").status_code == 404


@pytest.mark.parametrize("left", ["cable", "fault"])
def test_one_that_ever_held_something_stays(keeper_client, today, left):
    mat = make_mat("M-001", design=make_design("four", lengths_m=(0.6, 1.1)))
    if left == "cable":
        fit(make_segment(), mat, 2, today - timedelta(30), removed_on=today - timedelta(3))
    else:
        make_fault(mat, "connector", 2, reported_on=today)
    answer = delete(keeper_client, 2, reason="never there")
    assert f"M-001 has, or had, a {left} in position 2: it stays." in text_of(answer)
    assert mat.design.positions.count() == 2


def test_one_that_somebody_else_corrected_meanwhile_is_not_struck_unseen(keeper_client, keeper):
    position = make_design("four").positions.get(number=4)
    correct_position(position, by=keeper, length_m=2.2)
    assert "Somebody else changed this meanwhile" in text_of(delete(keeper_client, 4))
    delete(keeper_client, 4, version=2)
    assert "Position 4, 2.20 m: deleted" in text_of(keeper_client.get(DESIGN))


def test_pressed_twice_it_is_struck_once(keeper_client, keeper):
    position = make_design("four").positions.get(number=4)
    assert [delete(keeper_client, 4).url for _ in range(2)] == [DESIGN, DESIGN]
    delete_position(position, by=keeper, reason="the second press was read before the first had deleted it")
    assert DesignPosition.history.filter(history_type="-").count() == 1
    assert delete(keeper_client, 5).status_code == 404
