"""The recount finds what it is there to find: each rule broken once, past every check, and named."""

from datetime import timedelta

import pytest
from conftest import signed_in
from django.contrib.auth.models import Group, User
from django.db import connection, transaction
from django.utils import timezone
from factories import (
    fit,
    make_event,
    make_fault,
    make_link,
    make_mat,
    make_person,
    make_pile,
    make_reading,
    make_segment,
    make_series,
    make_usage_event,
)
from invariants import broken

from fleet.models import AccountChange, CableSegment, Load, LogLink, Mat, MatDay, Session, StockEntry, Submission
from fleet.services.designs import delete_position
from fleet.services.mat_days import write_days
from fleet.services.register import add_segment, withdraw_mat
from inspections.assessment.services import assess_pool, reassess
from inspections.models import Assessment, BenchDay, Measurement
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(on):
    return make_mat("M-1", fitted=True, fitted_on=on - timedelta(days=90))


@pytest.fixture
def whole(mat, on, keeper):
    """A pool of a bit of everything, in which nothing is broken."""
    event = make_event(on - timedelta(days=30), days=2, series=make_series(on - timedelta(days=30)))
    write_days([make_usage_event(mat, event)])
    segment = mat.fittings.first().segment
    make_reading(segment, measured_on=on - timedelta(days=9))
    make_fault(mat, reported_on=on - timedelta(days=3), what="loose")
    assess_pool(on)
    raise_work_orders([segment.pk], by=keeper, on=on)
    with transaction.atomic():
        event.correct(by=keeper, reason="wrong place", place="Quay")
    return mat


def test_nothing_is_broken_in_a_whole_pool(whole, on):
    assert broken(on) == []


def let_two_be_at_once():
    """PostgreSQL refuses them by itself."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for name in ("one_cable_in_a_position_at_a_time", "a_cable_in_one_position_at_a_time"):
                cursor.execute(f"ALTER TABLE fleet_fitting DROP CONSTRAINT {name}")


def in_a_position_twice(mat, on):
    let_two_be_at_once()
    mat.fittings.filter(position=1).update(removed_on=on - timedelta(days=5))
    fit(make_segment(serial="C-X"), mat, 1, on - timedelta(days=9))


def of_a_segment_twice(mat, on):
    let_two_be_at_once()
    segment = make_segment(serial="C-X")
    fit(segment, make_mat("M-2"), 1, on - timedelta(days=60), removed_on=on - timedelta(days=40))
    fit(segment, make_mat("M-3"), 1, on - timedelta(days=50), removed_on=on - timedelta(days=45))


def withdrawn_and_fitted(mat, on):
    CableSegment.objects.filter(fittings__position=2).update(withdrawn_on=on)


def fitted_into_a_withdrawn_mat(mat, on):
    other = make_mat("M-2")
    withdraw_mat(other, by=None, on=on, reason="torn", withdrawn_on=on - timedelta(days=20))
    fit(make_segment(), other, 1, on - timedelta(days=30))


def position_that_the_design_lacks(mat, on):
    mat.fittings.filter(position=2).update(position=9)


def fault_where_a_position_was_deleted(mat, on):
    other = make_mat("M-2")
    delete_position(other.design.positions.get(number=4), by=None, reason="never there")
    make_fault(other, position=4)


def day_that_no_usage_takes(mat, on):
    MatDay.objects.create(mat=mat, day=on, usage_event=mat.usage_events.get(), planned=False)


def day_that_is_missing(mat, on):
    MatDay.objects.first().delete()


def planned_twice(mat, on):
    first, second = (make_usage_event(mat, make_event(on + timedelta(days=5)), state="planned") for _ in range(2))
    write_days([first])
    MatDay.objects.bulk_create([MatDay(mat=mat, day=on + timedelta(days=5), usage_event=second, planned=False)])


def went_before_it_is_over(mat, on):
    write_days([make_usage_event(mat, make_event(on, days=2))])


def planned_when_withdrawn(mat, on):
    other = make_mat("M-2", withdrawn_on=on)
    write_days([make_usage_event(other, make_event(on + timedelta(days=9)), state="planned")])


def endless_event(mat, on):
    make_event(on - timedelta(days=500), days=400)


def measured_tomorrow(mat, on):
    make_reading(make_segment(), measured_on=on + timedelta(days=1))


def two_weeks_of_a_series_on_one_day(mat, on):
    event = mat.usage_events.get().event
    make_event(event.starts_on, series=event.series)


def series_without_events(mat, on):
    make_series()


def open_line_of_a_cable_that_came_out(mat, on):
    mat.fittings.filter(position=1).update(removed_on=on)
    Assessment.objects.filter(position=1).delete()


def open_line_of_a_withdrawn_order(mat, on):
    mat.work_orders.update(withdrawn_on=on)


def assessment_of_another_count(mat, on):
    Assessment.objects.filter(position=3).update(event_count=77)


def bench_day_of_another_count(mat, on):
    make_reading(mat.fittings.get(position=2).segment, measured_on=on)
    reassess([mat.fittings.get(position=2).segment_id], on=on)
    BenchDay.objects.filter(in_fit=False).update(readings=7)


def bench_day_without_readings(mat, on):
    BenchDay.objects.create(measured_on=on, readings=1, in_fit=False)


def segment_that_is_not_assessed(mat, on):
    Assessment.objects.filter(position=3).delete()


def account_of_two_roles(mat, on):
    person = make_person("Else", role="visitor")
    person.groups.add(*make_person("hand", role="bench hand").groups.all())


def names_of_other_capitals(mat, on):
    with connection.cursor() as cursor:
        cursor.execute("DROP INDEX fleet_account_name")
    make_person("KEEPER", role="visitor")


def account_that_nobody_made(mat, on):
    User.objects.create_user("unmade").groups.add(Group.objects.get(name="visitor"))


def account_that_was_made_twice(mat, on):
    AccountChange.objects.create(account=make_person("twice", role="visitor"), act="made", detail="log")


def session_of_a_deactivated_account(mat, on):
    person = make_person("gone", role="visitor")
    signed_in(person)
    User.objects.filter(pk=person.pk).update(is_active=False)


def session_by_the_link_of_another(mat, on):
    logger, other = make_person("logger", role="log"), make_person("other", role="log")
    link = LogLink.objects.create(account=other, name="gate", secret_hash="5" * 64, made_by=other, ends_on=on)
    signed_in(logger)
    Session.objects.update(link=link)


def session_by_a_withdrawn_link(mat, on):
    logger = make_person("logger", role="log")
    link = make_link(logger, withdrawn_at=timezone.now())
    signed_in(logger)
    Session.objects.update(link=link)


def link_of_a_bench_hand(mat, on):
    make_link(make_person("hand", role="bench hand"))


def form_without_its_answer(mat, on):
    Submission.objects.create(token="0d3c1f6e-0f0e-4c55-9a7e-3a3b7e6f0a11")


def load_that_says_more(mat, on):
    Load.objects.create(files={"mats.csv": {"stored": 2}})


def value_that_its_field_refuses(mat, on):
    Measurement.objects.update(temperature_c=700)


def code_without_its_key(mat, on):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_mat SET number_key = 'm-9'")


def change_without_a_trail(mat, on):
    mat.usage_events.get().event.__class__.objects.update(name="another")


def version_without_a_trail(mat, on):
    Mat.objects.update(version=3)


def text_with_an_escape(mat, on):
    Mat.objects.update(owner="\x1b[31m")


def entry_that_counts_wrong(mat, on):
    make_pile(count=8)
    StockEntry.objects.update(left=7)


def cable_on_the_shelf_and_in_a_mat(mat, on):
    kind = {"cable_type": mat.design.positions.first().cable_type, "length_m": 0.6}
    fit(add_segment(serial="C-X", by=None, on=on, **kind), make_mat("M-2"), 1, on)


BREAKS = {
    in_a_position_twice: "two fittings in one position at a time",
    of_a_segment_twice: "two fittings of one segment at a time",
    withdrawn_and_fitted: "and fitted: ",
    fitted_into_a_withdrawn_mat: "fitted into a mat that is withdrawn",
    position_that_the_design_lacks: "a position that the design lacks",
    fault_where_a_position_was_deleted: "a position that was deleted",
    day_that_no_usage_takes: "day too many",
    day_that_is_missing: "day missing",
    planned_twice: "planned twice: M-1",
    went_before_it_is_over: "went before it is over",
    planned_when_withdrawn: "planned",
    endless_event: "longer than a year",
    measured_tomorrow: "measured_on is",
    two_weeks_of_a_series_on_one_day: "2 events of series",
    series_without_events: "a series without events",
    open_line_of_a_cable_that_came_out: "an open line of a cable that is not there",
    open_line_of_a_withdrawn_order: "an open line of an order that is withdrawn",
    assessment_of_another_count: "differs from one made now in event_count",
    bench_day_of_another_count: "differs from one made now in readings",
    bench_day_without_readings: "a new bench day is kept or has readings, and not both",
    segment_that_is_not_assessed: "is in service or assessed, and not both",
    account_of_two_roles: "account Else has 2 roles",
    names_of_other_capitals: "2 accounts of one name: keeper",
    account_that_nobody_made: "account unmade was made, and then: nothing",
    account_that_was_made_twice: "account twice was made, and then: made, made",
    session_of_a_deactivated_account: "signed in with an account that is deactivated: gone",
    session_by_the_link_of_another: "signed in as logger by a link of another account: gate",
    session_by_a_withdrawn_link: "signed in by a link that was withdrawn: gate phone",
    link_of_a_bench_hand: "a link signs in as hand, who is bench hand: gate phone",
    form_without_its_answer: "was answered with “”",
    load_that_says_more: "mats.csv says 2 rows stored, 0 are there",
    value_that_its_field_refuses: "A temperature is",
    code_without_its_key: "the key of “M-1” is “m-9”",
    change_without_a_trail: "its trail ends with another name",
    version_without_a_trail: "version 3 and no trail",
    entry_that_counts_wrong: "says 7 are left, counted 8",
    cable_on_the_shelf_and_in_a_mat: "C-X is on the shelf as None by the register",
    text_with_an_escape: "its owner holds ['U+001B']",
}


@pytest.mark.parametrize("act", BREAKS, ids=lambda act: act.__name__)
def test_what_is_broken_is_named(whole, on, act):
    act(whole, on)
    assert [sentence for sentence in broken(on) if BREAKS[act] in sentence]
