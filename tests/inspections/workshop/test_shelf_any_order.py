"""Whatever is received, counted, moved, fitted, taken out, signed off and deleted, in whatever order:

the shelf is what the register and the ledger say, both alike, and what was refused has changed nothing.
"""

from collections import Counter
from datetime import date, timedelta
from itertools import count

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from factories import make_depot, make_person, make_plain_design, make_plain_mat
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from invariant_shelf import every_spare_is_in_the_ledger, ledger_counts_right, shelf_is_what_the_ledger_says
from sizes import examples

from fleet.choices import Disposition
from fleet.models import CableSegment, CableType, Depot, Fitting, Mat, MatDesign, StockEntry
from fleet.models.stock import Pile
from fleet.selectors.shelf import shelf_by_kind, without_serial_by_kind
from fleet.services.arrivals import Arrival
from fleet.services.fittings import TakenOut, correct_fitting, take_out
from fleet.services.register import add_segment, correct_segment, return_to_use, withdraw_segment
from fleet.services.shelf import receive_cables, receive_sets
from fleet.services.shelf_of_kind import count_kind, move_kind, scrap_kind
from inspections.deleting.services import delete_fitting, delete_segment
from inspections.models import WorkOrder
from inspections.workshop.change_services import Change, GoesIn, change_cables
from inspections.workshop.services import raise_work_orders
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db
FIRST = date(2026, 3, 1)
MATS, POSITIONS, LENGTHS = ("K1", "K2"), (1, 2, 3), (1.0, 1.2)
MAT, POSITION, NUMBER, LENGTH = map(st.sampled_from, (MATS, POSITIONS, range(10), LENGTHS))
DEPOT, LOT = st.sampled_from(("Quay", "Mill", None)), st.sampled_from(("", "L-7"))
GOES = st.sampled_from(Disposition.values)
GOES_IN = st.one_of(st.just("new"), st.just("none"), NUMBER)


class Shelf(RuleBasedStateMachine):
    """`counted` says how many of each length should lie there without a serial; a day passes with each act."""

    def __init__(self):
        super().__init__()
        self.step, self.counted = count(), Counter()
        self.whole = transaction.atomic()
        self.whole.__enter__()

    def teardown(self):
        transaction.set_rollback(True)
        self.whole.__exit__(None, None, None)

    @initialize()
    def a_pool(self):
        self.keeper, design = make_person("kit"), make_plain_design(len(POSITIONS))
        for number, depot in zip(MATS, (make_depot("Quay"), make_depot("Mill")), strict=True):
            make_plain_mat(design, number=number, fitted=True, fitted_on=FIRST, depot=depot)
        self.type, self.on = CableType.objects.get(), FIRST
        for number in (1, 2):
            self.add(1.0, "", counted=False)
            self.receive(1.0, "Quay", "", number)

    def do(self, act, **more):
        """What the act gave, True for nothing; None where it was refused: then it has changed nothing."""
        self.on = FIRST + timedelta(days=next(self.step) + 1)
        before = everything()
        try:
            with transaction.atomic():
                return act(by=self.keeper, on=self.on, **more) or True
        except ValidationError:
            assert everything() == before
            return None

    @rule(length=LENGTH, depot=DEPOT, lot=LOT, number=NUMBER)
    def receive(self, length, depot, lot, number):
        if self.do(receive_cables, pile=self.pile(length, depot, lot), count=number, day=FIRST):
            self.counted[length] += number

    @rule(depot=DEPOT, lot=LOT)
    def receive_a_set(self, depot, lot):
        self.do(receive_sets, design=MatDesign.objects.get(), count=1, day=FIRST, depot=self.depot(depot), lot=lot)
        self.counted[1.0] += len(POSITIONS)

    @rule(length=LENGTH, depot=DEPOT, lot=LOT, number=NUMBER, missing=NUMBER)
    def count(self, length, depot, lot, number, missing):
        pile, gone = self.pile(length, depot, lot), nth(CableSegment, missing)
        there = sum(StockEntry.objects.of_pile(pile).values_list("change", flat=True))
        if self.do(count_kind, counts={pile: number}, missing=[gone] if missing else [], reason="nobody knows"):
            self.counted[length] += number - there

    @rule(length=LENGTH, depot=DEPOT, lot=LOT, number=NUMBER)
    def scrap(self, length, depot, lot, number):
        if self.do(scrap_kind, counts={self.pile(length, depot, lot): number}, day=self.on, reason="crushed"):
            self.counted[length] -= number

    @rule(length=LENGTH, depot=DEPOT, lot=LOT, number=NUMBER, to=DEPOT, cable=NUMBER)
    def move(self, length, depot, lot, number, to, cable):
        cables = [nth(CableSegment, cable)] if cable else []
        counts = {self.pile(length, depot, lot): number}
        self.do(move_kind, counts=counts, segments=cables, to=self.depot(to), day=self.on)

    @rule(length=LENGTH, lot=LOT, counted=st.booleans())
    def add(self, length, lot, counted):
        new = {"cable_type": self.type, "length_m": length, "lot": lot, "serial": f"S-{next(self.step)}"}
        if self.do(add_segment, arrival=Arrival(counted=counted), **new):
            self.counted[length] -= counted

    @rule(number=NUMBER, length=LENGTH)
    def correct_length(self, number, length):
        self.do(correct_segment, segment=self.spare(number), length_m=length)

    @rule(number=NUMBER)
    def withdraw_or_return(self, number):
        segment = self.spare(number)
        if segment.withdrawn_on:
            self.do(return_to_use, row=segment)
        else:
            self.do(withdraw_segment, segment=segment, reason="lost")

    @rule(mat=MAT, what=st.dictionaries(POSITION, GOES_IN, min_size=1), goes=GOES)
    def change(self, mat, what, goes):
        changes = [self.changed(mat, *of_position, goes) for of_position in what.items()]
        came = self.do(change_cables, mat=self.mat(mat), changes=changes, changed_on=self.next_day)
        self.are_taken(came)

    @rule(mat=MAT, what=st.dictionaries(POSITION, GOES_IN, min_size=1), goes=GOES)
    def raise_an_order_and_sign_it_off(self, mat, what, goes):
        wanted = Fitting.objects.filter(mat__number=mat, position__in=what, removed_on=None)
        if not self.do(raise_work_orders, segment_ids=list(wanted.values_list("segment", flat=True))):
            return
        order = WorkOrder.objects.order_by("pk").last()
        changes = [self.changed(mat, *of_position, goes) for of_position in what.items()]
        came = self.do(answer_order, order=order, changes=changes, changed_on=self.next_day)
        self.are_taken(came and came[1])

    @rule(mat=MAT, position=POSITION, goes=GOES)
    def take_out(self, mat, position, goes):
        if there := self.there(mat, position):
            self.do(take_out, fitting=there, removed_on=self.next_day, reason="worn", goes=goes)

    @rule(number=NUMBER)
    def say_that_it_never_came_out(self, number):
        if fitting := nth(Fitting, number):
            self.do(correct_fitting, fitting=fitting, removed_on=None, removal_reason="")

    @rule(number=NUMBER, cables=st.booleans())
    def delete_a_fitting(self, number, cables):
        if fitting := nth(Fitting, number):
            self.delete(delete_fitting, fitting=fitting, cables=cables)

    @rule(number=NUMBER)
    def delete_a_cable(self, number):
        """One of the newest: of the others readings and fittings are told."""
        newest = CableSegment.objects.order_by("-pk")[: len(POSITIONS)]
        self.delete(delete_segment, segment=newest[number % len(newest)])

    @rule(length=LENGTH, lot=LOT)
    def enter_a_serial_by_mistake(self, length, lot):
        """What two acts have to come together for is tried as one."""
        self.add(length, lot, counted=True)
        self.delete(delete_segment, segment=CableSegment.objects.latest("pk"))

    def delete(self, act, **what):
        """A cable that was counted before it had a serial is counted again."""
        from_count = self.from_count()
        if self.do(act, reason="never so", **what):
            for serial in from_count.keys() - self.from_count().keys():
                self.counted[from_count[serial]] += 1

    @invariant()
    def shelf_register_and_ledger_agree(self):
        if not hasattr(self, "on"):
            return
        checks = (ledger_counts_right, shelf_is_what_the_ledger_says, every_spare_is_in_the_ledger)
        assert [sentence for check in checks for sentence in check(self.on)] == []
        assert {length: n for (_, length), n in without_serial_by_kind().items()} == +self.counted
        with_serial = Counter(round(row.length_m, 3) for row in CableSegment.objects.on_shelf(self.on))
        assert {length: n for (_, length), n in shelf_by_kind(self.on).items()} == self.counted + with_serial

    # ---

    def are_taken(self, changed):
        """New cables without a number of their own came from those that were counted, as far as there were any."""
        if changed:
            lengths = Counter(dict.fromkeys([1.0], len(changed.given)))
            self.counted = self.counted - lengths

    @property
    def next_day(self):
        return self.on + timedelta(days=1)

    @staticmethod
    def from_count():
        """{serial: length in m as the ledger had it first} of cables that were counted before they had a serial."""
        first = {}
        for entry in StockEntry.objects.exclude(segment=None).order_by("-number").select_related("segment"):
            first[entry.segment.serial] = entry
        return {serial: entry.length_m for serial, entry in first.items() if entry.reason == "moved"}

    def changed(self, mat, position, new, goes):
        there = self.there(mat, position)
        goes_in = {"none": None, "new": GoesIn()}.get(new, "")
        if goes_in == "":
            goes_in = GoesIn(nth(CableSegment, new))
        return Change(position, goes_in, there and TakenOut(there, "worn", goes, there.version))

    def pile(self, length, depot, lot):
        return Pile(self.type, length, self.depot(depot), lot)

    def depot(self, name):
        return name and Depot.objects.get(name=name)

    def spare(self, number):
        """A cable on the shelf where there is one, else any: with most of the others nothing can be done."""
        spares = list(CableSegment.objects.on_shelf(self.on).order_by("pk"))
        return spares[number % len(spares)] if spares and number else nth(CableSegment, number)

    def mat(self, number):
        return Mat.objects.get(number=number)

    def there(self, mat, position):
        places = Fitting.objects.filter(mat__number=mat, position=position, removed_on=None)
        return places.select_related("segment", "mat").first()


def everything():
    models = (StockEntry, CableSegment, Fitting)
    return [sorted(map(repr, model.objects.values_list())) for model in models]


def nth(model, number):
    rows = list(model.objects.order_by("pk"))
    return rows[number % len(rows)] if rows else None


def test_shelf_register_and_ledger_never_disagree():
    few = settings(
        max_examples=examples(6),
        stateful_step_count=12,
        deadline=None,
        # without shrinking, which takes minutes
        phases=[Phase.explicit, Phase.reuse, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(Shelf, settings=few)
