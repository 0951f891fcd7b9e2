"""Logging mats at events: what is refused, what is asked back, what is kept."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from factories import fit, log_usage_event, make_event, make_mat, make_segment

from fleet.choices import UsageBasis, UsageState
from fleet.models import MatDay, UsageEvent
from fleet.selectors.seen import versions_of
from fleet.selectors.trail import trail_of
from fleet.selectors.usage import count_unanswered, next_event_of, next_free_code, trail_of_event, unanswered_events
from fleet.services.events import add_event, correct_event
from fleet.services.mat_days import DoubleBooked
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, call_off, correct_usage_event, log_event
from fleet.signals import wear_changed

pytestmark = pytest.mark.django_db
WENT, PLANNED, CALLED_OFF = UsageState.WENT, UsageState.PLANNED, UsageState.CALLED_OFF


def days(mat):
    return [(row.day, row.planned) for row in MatDay.objects.filter(mat=mat).order_by("day", "pk")]


@pytest.fixture
def told():
    """What was told to whoever assesses: (segment ids, day)."""
    heard = []

    def hear(sender, segment_ids, on, **kwargs):
        heard.append((set(segment_ids), on))

    wear_changed.connect(hear)
    yield heard
    wear_changed.disconnect(hear)


def test_a_mat_that_went_takes_each_day_of_the_event(on, keeper):
    mat, event = make_mat(), make_event(on - timedelta(days=2), days=2)
    usage_event = log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=6.5, fold_cycles=2)
    assert (usage_event.hours_out, usage_event.fold_cycles, usage_event.recorded_by) == (6.5, 2, keeper)
    assert days(mat) == [(on - timedelta(days=2), False), (on - timedelta(days=1), False)]


def test_a_mat_called_off_takes_no_day(on, keeper):
    mat, event = make_mat(), make_event(on + timedelta(days=3), days=2)
    usage_event = log_usage_event(mat, event, by=keeper, on=on, state=PLANNED)
    assert days(mat) == [(on + timedelta(days=3), True), (on + timedelta(days=4), True)]
    call_off(usage_event, by=keeper, on=on)
    assert days(mat) == []


def test_an_event_that_is_not_over_cannot_have_gone(on, keeper):
    event = make_event(on, days=2)
    with pytest.raises(ValidationError, match="after today"):
        log_usage_event(make_mat(), event, by=keeper, on=on, state=WENT)
    assert not UsageEvent.objects.exists()


def test_the_evening_of_the_event_is_early_enough(on, keeper):
    assert log_usage_event(make_mat(), make_event(on), by=keeper, on=on, state=WENT).state == WENT


def test_planned_twice_on_a_day_is_refused_naming_mat_day_and_the_other_event(on, keeper):
    mat, first, second = (
        make_mat("M-017"),
        make_event(on, days=3, code="E-1", name="Hill run"),
        make_event(on, code="E-2"),
    )
    log_usage_event(mat, first, by=keeper, on=on, state=PLANNED)
    with pytest.raises(ValidationError) as refused:
        log_usage_event(mat, second, by=keeper, on=on, state=PLANNED)
    assert refused.value.messages == ["Already planned: M-017 on 30 Sep 2026: E-1 Hill run."]
    assert not second.usage_events.exists()


def test_the_day_is_free_again_once_called_off(on, keeper):
    mat, first, second = make_mat(), make_event(on), make_event(on)
    call_off(log_usage_event(mat, first, by=keeper, on=on, state=PLANNED), by=keeper, on=on)
    log_usage_event(mat, second, by=keeper, on=on, state=PLANNED)
    assert next_event_of(mat, on) == second


def test_went_twice_on_a_day_wants_the_keepers_word_and_is_then_marked(on, keeper):
    mat, first, second = make_mat(), make_event(on), make_event(on)
    log_usage_event(mat, first, by=keeper, on=on, state=WENT)
    with pytest.raises(DoubleBooked) as asked:
        log_usage_event(mat, second, by=keeper, on=on, state=WENT)
    assert [(clash.mat, clash.event, clash.days) for clash in asked.value.clashes] == [(mat.number, first, (on,))]
    confirmed = asked.value.fingerprint
    assert log_usage_event(mat, second, by=keeper, on=on, state=WENT, confirmed=confirmed).shares_a_day
    assert days(mat) == [(on, False), (on, False)]


def test_a_word_given_for_one_shared_day_does_not_hold_for_another(on, keeper):
    mat, other = make_mat(), make_mat()
    first, second = make_event(on), make_event(on)
    log_usage_event(mat, first, by=keeper, on=on, state=WENT)
    with pytest.raises(DoubleBooked) as asked:
        log_usage_event(mat, second, by=keeper, on=on, state=WENT)
    log_usage_event(other, first, by=keeper, on=on, state=WENT)
    usage = {mat: UsageValues(WENT), other: UsageValues(WENT)}
    with pytest.raises(DoubleBooked):
        log_event(second, usage, by=keeper, on=on, confirmed=asked.value.fingerprint)


def test_a_withdrawn_mat_is_named(on, keeper):
    mat = make_mat("M-004", withdrawn_on=on - timedelta(days=9), withdrawal_reason="torn")
    with pytest.raises(ValidationError, match="M-004"):
        log_usage_event(mat, make_event(on), by=keeper, on=on, state=WENT)
    log_usage_event(mat, make_event(on - timedelta(days=10)), by=keeper, on=on, state=WENT)


def test_logging_a_planned_event_turns_its_mats_into_went_and_keeps_the_plan_in_the_trail(on, keeper):
    mat, event = make_mat(), make_event(on - timedelta(days=1))
    log_usage_event(mat, event, by=keeper, on=on - timedelta(days=5), state=PLANNED)
    usage_event = log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=4.0)
    assert usage_event.state == WENT
    corrected, entered = trail_of(usage_event)
    assert [(change.field, change.old, change.new) for change in corrected.changes] == [
        ("state", "planned", "went"),
        ("hours out", None, "4"),
    ]
    assert (corrected.who, entered.what) == ("keeper", "entered")


def test_the_same_values_again_change_nothing(on, keeper):
    mat, event = make_mat(), make_event(on)
    log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=4.0)
    usage_event = log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=4.0)
    assert usage_event.version == 1
    assert len(days(mat)) == 1


def test_other_values_for_a_mat_that_went_are_a_correction_and_no_second_log(on, keeper):
    mat, event = make_mat("M-003"), make_event(on)
    log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=4.0)
    with pytest.raises(ValidationError, match="M-003"):
        log_usage_event(mat, event, by=keeper, on=on, state=WENT, hours_out=5.0)


def test_a_loan_counts_for_twelve_events(on, keeper, told):
    mat = make_mat(fitted=True)
    event = make_event(date(2026, 4, 1), days=150, name="Season's loan")
    usage_event = log_usage_event(mat, event, by=keeper, on=on, state=WENT, counts_for=12, basis=UsageBasis.ASSUMED)
    assert (usage_event.counts_for, usage_event.basis) == (12, "assumed")
    assert len(days(mat)) == 150
    segment = mat.fittings.first().segment
    assert segment.assessment.event_count == 12


def test_changed_dates_move_the_days(on, keeper):
    mat, event = make_mat(), make_event(on + timedelta(days=3))
    log_usage_event(mat, event, by=keeper, on=on, state=PLANNED)
    moved = on + timedelta(days=10)
    correct_event(event, by=keeper, on=on, starts_on=moved, ends_on=moved + timedelta(days=1), reason="rain")
    assert days(mat) == [(moved, True), (moved + timedelta(days=1), True)]
    assert [(change.field, change.new) for change in trail_of_event(event)[0].changes] == [
        ("starts on", "10 Oct 2026"),
        ("ends on", "11 Oct 2026"),
    ]


def test_an_event_does_not_move_onto_a_day_planned_elsewhere(on, keeper):
    mat, event, other = make_mat("M-008"), make_event(on), make_event(on + timedelta(days=1), code="E-9")
    for planned in (event, other):
        log_usage_event(mat, planned, by=keeper, on=on, state=PLANNED)
    with pytest.raises(ValidationError, match=r"M-008 on 1 Oct 2026: E-9"):
        correct_event(event, by=keeper, on=on, ends_on=on + timedelta(days=1))
    event.refresh_from_db()
    assert (event.ends_on, days(mat)) == (on, [(on, True), (on + timedelta(days=1), True)])


def test_mats_that_went_do_not_move_into_the_future(on, keeper):
    event = make_event(on)
    log_usage_event(make_mat(), event, by=keeper, on=on, state=WENT)
    with pytest.raises(ValidationError, match="after today"):
        correct_event(event, by=keeper, on=on, ends_on=on + timedelta(days=1))


def test_an_event_that_went_moves_onto_a_shared_day_only_with_the_keepers_word(on, keeper):
    mat, event, other = make_mat(), make_event(on), make_event(on - timedelta(days=1))
    for went in (event, other):
        log_usage_event(mat, went, by=keeper, on=on, state=WENT)
    day = on - timedelta(days=1)
    with pytest.raises(DoubleBooked) as asked:
        correct_event(event, by=keeper, on=on, starts_on=day, ends_on=day)
    assert days(mat) == [(day, False), (on, False)]
    event.refresh_from_db()
    correct_event(event, by=keeper, on=on, starts_on=day, ends_on=day, confirmed=asked.value.fingerprint)
    assert event.usage_events.get().shares_a_day
    event.refresh_from_db()
    correct_event(event, by=keeper, on=on, starts_on=on, ends_on=on)
    assert not event.usage_events.get().shares_a_day


def test_an_unanswered_event_waits_until_answered(on, keeper):
    event = make_event(on - timedelta(days=1))
    mats = [make_mat(), make_mat()]
    log_event(event, dict.fromkeys(mats, UsageValues(PLANNED)), by=keeper, on=on - timedelta(days=9))
    log_usage_event(make_mat(), event, by=keeper, on=on, state=WENT)
    assert ([waiting.mats_planned for waiting in unanswered_events(on)], count_unanswered(on)) == ([2], 1)
    assert not unanswered_events(on - timedelta(days=1)).exists() and not count_unanswered(on - timedelta(days=1))
    assert answer_event(event, WENT, by=keeper, on=on) == 2
    assert not unanswered_events(on).exists()
    assert set(event.usage_events.values_list("state", flat=True)) == {WENT}


def test_a_second_answer_does_no_harm(on, keeper):
    event, mat = make_event(on - timedelta(days=1)), make_mat()
    log_usage_event(mat, event, by=keeper, on=on, state=PLANNED)
    assert answer_event(event, CALLED_OFF, by=keeper, on=on) == 1
    assert answer_event(event, WENT, by=keeper, on=on) == 0
    assert days(mat) == []


def test_an_event_ahead_is_called_off_but_cannot_have_gone(on, keeper):
    event = make_event(on + timedelta(days=4))
    log_usage_event(make_mat(), event, by=keeper, on=on, state=PLANNED)
    with pytest.raises(ValidationError):
        answer_event(event, WENT, by=keeper, on=on)
    answer_event(event, CALLED_OFF, by=keeper, on=on)
    assert event.usage_events.get().state == CALLED_OFF


def test_a_correction_refuses_when_somebody_else_changed_it_meanwhile(on, keeper):
    usage_event = log_usage_event(make_mat(), make_event(on), by=keeper, on=on, state=WENT)
    correct_usage_event(usage_event, by=keeper, on=on, seen_version=1, hours_out=5.0)
    with pytest.raises(ValidationError, match="Somebody else"):
        correct_usage_event(usage_event, by=keeper, on=on, seen_version=1, hours_out=7.0)


def test_every_segment_that_was_ever_in_the_mats_is_assessed_again(on, keeper, told):
    mat, other = make_mat(), make_mat()
    moved, stayed, elsewhere = make_segment(), make_segment(), make_segment()
    fit(moved, mat, 1, removed_on=date(2026, 1, 1))
    fit(moved, other, 1, fitted_on=date(2026, 1, 1))
    fit(stayed, mat, 2)
    fit(elsewhere, other, 2)
    usage_event = log_usage_event(mat, make_event(on), by=keeper, on=on, state=WENT)
    correct_usage_event(usage_event, by=keeper, on=on, counts_for=2)
    assert told == [({moved.pk, stayed.pk}, on)] * 2


def test_a_code_is_the_next_free_one_of_its_year(on, keeper):
    make_event(on, code="E-2026-40")
    make_event(on, code="E-2025-77")
    make_event(on, code="E-2026-special")
    assert add_event(by=keeper, name="Gravel ride", starts_on=on).code == "E-2026-41"
    assert add_event(by=keeper, name="Ski day", starts_on=date(2027, 1, 4)).code == "E-2027-01"


def test_the_same_event_is_not_added_twice(on, keeper):
    add_event(by=keeper, name="Gravel ride", starts_on=on, place="Fen")
    with pytest.raises(ValidationError, match="exists already"):
        add_event(by=keeper, name="gravel ride", starts_on=on, place="fen")


def test_four_hundred_mats_cost_as_many_queries_as_four(on, keeper):
    design = make_mat().design

    def queries(mats, event):
        with CaptureQueriesContext(
            connection,
        ) as plan:
            log_event(event, dict.fromkeys(mats, UsageValues(PLANNED)), by=keeper, on=on)
        with CaptureQueriesContext(connection) as answer:
            answer_event(event, WENT, by=keeper, on=on)
        return len(plan), len(answer)

    few = queries([make_mat(design=design) for _ in range(4)], make_event(on))
    many = queries([make_mat(design=design) for _ in range(400)], make_event(on))
    # the rows themselves go in a few batches, since a statement holds so many values
    assert all(with_many - with_few <= 20 for with_few, with_many in zip(few, many, strict=True)), (few, many)
    assert MatDay.objects.count() == 404


def test_what_was_typed_for_an_event_that_is_gone_does_not_come_to_another_of_its_code(on, keeper):
    mat, gone = make_mat(), make_event(on - timedelta(days=2), code="E-2026-07")
    seen = versions_of(gone)
    with transaction.atomic():
        gone.delete_with_trail(by=keeper, reason="never was")
    assert next_free_code(2026) == "E-2026-08"
    other = make_event(on - timedelta(days=1), code="E-2026-07")
    with pytest.raises(ValidationError, match="was deleted meanwhile"):
        log_event(other, {mat: UsageValues(WENT)}, by=keeper, on=on, seen=seen)
    assert not UsageEvent.objects.exists()
