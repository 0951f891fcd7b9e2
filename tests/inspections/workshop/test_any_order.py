"""Whatever is fitted, taken out, changed, ordered and told wrongly, in whatever order:

mats, cables and a recount of the export never disagree, and what was refused has changed nothing.
"""

from datetime import date, timedelta
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from factories import make_person, make_plain_design, make_plain_mat, make_plain_segment
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from invariants import broken
from sizes import examples

from fleet.choices import Disposition
from fleet.models import CableSegment, Fitting, Mat
from fleet.selectors.mats import positions_of
from fleet.selectors.segments import place_of_segment
from fleet.services.fittings import TakenOut, fit_segment, take_out
from inspections.deleting.services import delete_fitting
from inspections.files.saving import export_folder
from inspections.models import WorkOrder
from inspections.workshop.change_services import Change, GoesIn, change_cables
from inspections.workshop.services import raise_work_orders, withdraw_work_order
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db
FIRST = date(2026, 3, 1)
MATS, POSITIONS, SPARES = ("K1", "K2"), (1, 2, 3), ("S-1", "S-2")
MAT, POSITION, NUMBER = st.sampled_from(MATS), st.sampled_from(POSITIONS), st.integers(0, 9)
GOES = st.sampled_from(Disposition.values)
# a new cable without a number, one on record whatever it is doing, or none
GOES_IN = st.one_of(st.just("new"), st.just("none"), NUMBER)


class Workshop(RuleBasedStateMachine):
    """`held` says what each position should hold; a day passes with each act."""

    def __init__(self):
        super().__init__()
        self.step, self.held, self.away = count(), {}, set()
        self.whole = transaction.atomic()
        self.whole.__enter__()

    def teardown(self):
        transaction.set_rollback(True)
        self.whole.__exit__(None, None, None)

    @initialize()
    def a_pool(self):
        self.keeper, design = make_person("kit"), make_plain_design(len(POSITIONS))
        for number in MATS:
            mat = make_plain_mat(design, number=number, fitted=True, fitted_on=FIRST)
            self.held |= {(number, row.position): row.segment.serial for row in mat.fittings.all()}
        for serial in SPARES:
            make_plain_segment(serial=serial)
        self.on = FIRST

    def do(self, act):
        """What the act gave, or the refusal."""
        self.on = FIRST + timedelta(days=next(self.step) + 1)
        try:
            with transaction.atomic():
                return act()
        except ValidationError as refused:
            return refused

    @rule(number=NUMBER, mat=MAT, position=POSITION, goes=GOES)
    def fit(self, number, mat, position, goes):
        segment, there = self.segment(number), self.there(mat, position)
        out = there and TakenOut(there, "worn", goes)
        came = self.do(
            lambda: fit_segment(
                segment, self.mat(mat), position, by=self.keeper, on=self.on, fitted_on=self.on, out=out, move=True
            )
        )
        if not isinstance(came, ValidationError):
            self.leaves(there, goes)
            self.goes_in(segment.serial, mat, position)

    @rule(mat=MAT, position=POSITION, goes=GOES)
    def take_out(self, mat, position, goes):
        there = self.there(mat, position)
        if there:
            self.do(lambda: take_out(there, by=self.keeper, on=self.on, removed_on=self.on, reason="worn", goes=goes))
            self.leaves(there, goes)

    @rule(mat=MAT, what=st.dictionaries(POSITION, GOES_IN, min_size=1), goes=GOES)
    def change(self, mat, what, goes):
        changes = [self.changed(mat, position, new, goes) for position, new in what.items()]
        came = self.do(lambda: change_cables(self.mat(mat), changes, by=self.keeper, on=self.on, changed_on=self.on))
        if isinstance(came, ValidationError):
            return
        for change in changes:
            self.leaves(change.out and change.out.fitting, goes)
        for change in changes:
            if change.new:
                segment = change.new.segment
                self.goes_in(segment.serial if segment else came.given[change.position], mat, change.position)

    @rule(mat=MAT, numbers=st.sets(POSITION, min_size=1))
    def raise_order(self, mat, numbers):
        wanted = [row.segment_id for row in (self.there(mat, number) for number in numbers) if row]
        self.do(lambda: raise_work_orders(wanted, by=self.keeper, on=self.on))

    @precondition(lambda self: WorkOrder.objects.exists())
    @rule(number=NUMBER)
    def withdraw_order(self, number):
        order = nth(WorkOrder, number)
        self.do(lambda: withdraw_work_order(order, by=self.keeper, on=self.on, reason="wrong mat"))

    @precondition(lambda self: WorkOrder.objects.exists())
    @rule(number=NUMBER, what=st.dictionaries(POSITION, st.just("left") | GOES_IN, min_size=1), goes=GOES)
    def tell_what_was_done(self, number, what, goes):
        order = nth(WorkOrder, number)
        left = {position: "no spanner" for position, new in what.items() if new == "left"}
        done = {position: new for position, new in what.items() if position not in left}
        changes = [self.changed(order.mat.number, position, new, goes) for position, new in done.items()]
        to_do = set(order.lines.filter(is_open=True).values_list("position", flat=True))
        came = self.do(
            lambda: answer_order(order, changes=changes, left=left, by=self.keeper, on=self.on, changed_on=self.on)
        )
        if isinstance(came, ValidationError):
            return
        order, changed = came
        if changed:
            self.are_changed(order.mat.number, changes, changed, goes)
        answered = set(order.lines.filter(is_open=False).values_list("position", flat=True))
        assert to_do & set(what) <= answered
        assert (order.state_on(self.on) == "signed off") == (to_do <= answered)

    @precondition(lambda self: Fitting.objects.exists())
    @rule(number=NUMBER)
    def delete_a_fitting(self, number):
        """What should be there then has a test of its own (`deleting/test_as_if_it_never_was.py`)."""
        fitting = nth(Fitting, number)
        came = self.do(lambda: delete_fitting(fitting, by=self.keeper, on=self.on, reason="never so"))
        if not isinstance(came, ValidationError):
            self.held = dict.fromkeys(self.held) | self.by_mats()
            self.away = set(CableSegment.objects.exclude(withdrawn_on=None).values_list("serial", flat=True))

    @invariant()
    def mats_cables_and_export_agree(self):
        if not self.held:
            return
        held = {place: serial for place, serial in self.held.items() if serial}
        assert held == self.by_mats() == self.by_cables() == self.by_export()
        gone = CableSegment.objects.exclude(withdrawn_on=None).values_list("serial", flat=True)
        assert set(gone) == self.away
        assert broken(self.on) == []

    # --- what should be there

    def are_changed(self, mat, changes, came, goes):
        for change in changes:
            self.leaves(change.out and change.out.fitting, goes)
        for change in changes:
            if change.new:
                segment = change.new.segment
                self.goes_in(segment.serial if segment else came.given[change.position], mat, change.position)

    def leaves(self, fitting, goes):
        if fitting:
            self.held[fitting.mat.number, fitting.position] = None
            if goes == Disposition.AWAY:
                self.away.add(fitting.segment.serial)

    def goes_in(self, serial, mat, position):
        self.held |= dict.fromkeys([place for place, held in self.held.items() if held == serial])
        self.held[mat, position] = serial
        self.away.discard(serial)

    # --- what is there

    def by_mats(self):
        return {
            (number, place.number): place.fitting.segment.serial
            for number in MATS
            for place in positions_of(self.mat(number), self.on)
            if place.fitting
        }

    def by_cables(self):
        places = [place_of_segment(segment, self.on) for segment in CableSegment.objects.all()]
        return {(place.mat.number, place.position): place.segment.serial for place in places if place}

    def by_export(self):
        with TemporaryDirectory() as folder:
            export_folder(Path(folder) / "out")
            rows = pd.read_csv(Path(folder) / "out" / "fittings.csv", dtype=str)
        rows = rows[rows["removed_on"].isna()]
        return {(row.mat, int(row.position)): row.segment for row in rows.itertuples()}

    def changed(self, mat, position, new, goes):
        there = self.there(mat, position)
        goes_in = {"none": None, "new": GoesIn()}.get(new, "")
        if goes_in == "":
            goes_in = GoesIn(self.segment(new))
        return Change(position, goes_in, there and TakenOut(there, "worn", goes, there.version))

    def mat(self, number):
        return Mat.objects.get(number=number)

    def there(self, mat, position):
        places = Fitting.objects.filter(mat__number=mat, position=position, removed_on=None)
        return places.select_related("segment", "mat").first()

    def segment(self, number):
        return nth(CableSegment, number)


def nth(model, number):
    rows = list(model.objects.order_by("pk"))
    return rows[number % len(rows)] if rows else None


def test_mats_cables_and_the_export_never_disagree():
    few = settings(
        max_examples=examples(2), stateful_step_count=8, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(Workshop, settings=few)
