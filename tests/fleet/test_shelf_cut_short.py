"""An act of the shelf that is cut short at any of its steps has not begun; the same act goes through afterwards."""

import pytest
from django.db import connection, transaction
from factories import fit, make_cable_type, make_depot, make_design, make_mat, make_pile, make_segment
from invariant_shelf import every_spare_is_in_the_ledger, ledger_counts_right, shelf_is_what_the_ledger_says

from fleet.models import CableSegment, Fitting, StockEntry
from fleet.services.arrivals import Arrival
from fleet.services.fittings import TakenOut, take_out
from fleet.services.register import add_segment
from fleet.services.shelf import receive_sets
from fleet.services.shelf_of_kind import count_kind, move_kind
from inspections.deleting.services import delete_segment
from inspections.workshop.change_services import Change, GoesIn, change_cables

pytestmark = pytest.mark.django_db


class CutShort(BaseException):
    """As the end of the process is one: nothing catches it."""


class Cut:
    """Lets so many statements that write through, and no more."""

    def __init__(self, after):
        self.left = after

    def __call__(self, execute, sql, params, many, context):
        if sql.split(" ", 1)[0] in ("INSERT", "UPDATE", "DELETE"):
            if not self.left:
                raise CutShort
            self.left -= 1
        return execute(sql, params, many, context)


@pytest.fixture
def pool(keeper, today):
    """A mat with a cable, a box of eight, and a spare that was one of them."""
    thin, quay, mill = make_cable_type("thin"), make_depot("Quay"), make_depot("Mill")
    mat = make_mat("M-1", make_design("D-2", lengths_m=(0.6, 0.6), cable_type=thin), depot=quay)
    place = fit(make_segment(0.6, "C-OLD", cable_type=thin), mat)
    pile, acts = make_pile(thin, 0.6, quay, 8), {"by": keeper, "on": today}
    spare = add_segment(serial="C-1", cable_type=thin, length_m=0.6, arrival=Arrival(counted=True), **acts)
    return {"mat": mat, "place": place, "pile": pile, "mill": mill, "spare": spare, "acts": acts, "today": today}


def change(mat, place, acts, today, **_):
    out = TakenOut(place, "worn")
    change_cables(mat, [Change(1, GoesIn(), out), Change(2, GoesIn())], changed_on=today, **acts)


def receive(mat, mill, acts, today, **_):
    receive_sets(mat.design, 2, day=today, depot=mill, **acts)


def count(pile, spare, acts, **_):
    count_kind({pile: 5}, [spare], reason="nobody knows", **acts)


def move(pile, spare, mill, acts, today, **_):
    move_kind({pile: 3}, [spare], mill, day=today, **acts)


def take(place, acts, today, **_):
    take_out(place, removed_on=today, reason="worn", **acts)


def delete(spare, acts, **_):
    delete_segment(spare, reason="never so", **acts)


def everything():
    return [sorted(map(repr, model.objects.values_list())) for model in (StockEntry, CableSegment, Fitting)]


# a change has some fifty steps, of which some are tried
@pytest.mark.parametrize(("act", "stride"), [(change, 7), (receive, 1), (count, 1), (move, 1), (take, 2), (delete, 3)])
def test_an_act_that_is_cut_short_has_not_begun(pool, act, stride, today):
    before, steps = everything(), 0
    while was_cut(act, pool, steps):
        assert everything() == before
        steps += stride
    assert steps and everything() != before
    checks = (ledger_counts_right, shelf_is_what_the_ledger_says, every_spare_is_in_the_ledger)
    assert [sentence for check in checks for sentence in check(today)] == []


def was_cut(act, pool, after):
    for row in (pool["mat"], pool["place"], pool["spare"]):
        row.refresh_from_db()
    try:
        with transaction.atomic(), connection.execute_wrapper(Cut(after)):
            act(**pool)
    except CutShort:
        return True
    return False
