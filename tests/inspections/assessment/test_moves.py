"""What a correction moves beyond its own cable is asked about before it is saved, where it is much."""

from datetime import timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import make_design, make_mat, make_reading
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment, Fitting
from fleet.services.fittings import correct_fitting
from fleet.services.register import correct_segment
from fleet.views.weighing import TURNS
from inspections.assessment import moves as moves_module
from inspections.assessment.moves import Moves, MovesMuch
from inspections.assessment.services import assess_pool, reassess
from inspections.bench.services import TypedReading, clear_doubt, mark_doubtful, record_readings, void_reading
from inspections.models import Assessment, PoolTrend
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
OK, SOON, NOW = 6, 3, 1
FAR, LITTLE = Moves(100, 46, 11, 3, {}), Moves(100, 1, 0, 0, {})


def make_mats(count):
    """Mats of several ages whose cables rise by 0.35 dB a year and metre: dates come one by one."""
    rng, design = np.random.default_rng(5), make_design()
    for number in range(count):
        fitted_on = timezone.localdate() - timedelta(700 + 15 * number)
        for fitting in make_mat(design=design, fitted=True, fitted_on=fitted_on).fittings.select_related("segment"):
            length_m = fitting.segment.length_m
            for days in (100, 400, 690):
                loss_db = 0.3 + (0.5 + 0.35 * days / 365) * length_m + 0.05 * rng.standard_normal()
                make_reading(fitting.segment, round(loss_db, 3), fitted_on + timedelta(days))


def make_pool():
    """As many cables as let the pool be fitted by its best parameters alone, and one of them."""
    make_mats(26)
    assess_pool(timezone.localdate())
    return CableSegment.objects.order_by("pk").first().pk


@pytest.fixture(scope="module")
def pool(shared_rows):
    with shared_rows(make_pool) as made:
        yield made


@pytest.fixture
def segment(pool):
    return CableSegment.objects.get(pk=pool)


def stored(segment):
    segment.refresh_from_db()
    return segment.length_m


def trend_dates(but):
    return dict(Assessment.objects.exclude(segment=but).values_list("segment", "trend_due_on"))


def asked_moves(act, row, **values):
    """What was asked; the row is what is stored again."""
    with pytest.raises(MovesMuch) as asked:
        act(row, confirmed="", **values)
    row.refresh_from_db()
    return asked.value


def test_a_length_in_millimetres_tells_what_it_would_move_and_changes_nothing(segment, keeper, today):
    before = trend_dates(segment)
    asked = asked_moves(correct_segment, segment, by=keeper, on=today, length_m=600.0)
    assert stored(segment) == 0.6
    assert trend_dates(segment) == before
    correct_segment(segment, by=keeper, on=today, length_m=600.0, confirmed=asked.fingerprint)
    assert stored(segment) == 600.0
    assess_pool(today)
    after = trend_dates(segment)
    moved = [pk for pk in before if before[pk] != after[pk]]
    far = [pk for pk in moved if not (before[pk] and after[pk]) or abs((before[pk] - after[pk]).days) > 90]
    assert (asked.moves.moved, asked.moves.far) == (len(moved), len(far))
    assert asked.moves.sentences[0] == f"{len(moved)} dates move, {len(far)} by more than 90 days."


def test_the_statuses_that_change_are_those_that_the_next_calculation_gives(segment, keeper, today):
    before = dict(Assessment.objects.exclude(segment=segment).values_list("segment", "urgency"))
    asked = asked_moves(correct_segment, segment, by=keeper, on=today, length_m=600.0)
    correct_segment(segment, by=keeper, on=today, length_m=600.0)
    assess_pool(today)
    after = dict(Assessment.objects.exclude(segment=segment).values_list("segment", "urgency"))
    changed = [(before[pk], after[pk]) for pk in before if before[pk] != after[pk]]
    assert changed, "the pool is such that there is something to tell"
    assert asked.moves.statuses == {pair: changed.count(pair) for pair in changed}


def test_an_answer_covers_the_value_that_was_shown_and_no_other(segment, keeper, today):
    asked = asked_moves(correct_segment, segment, by=keeper, on=today, length_m=600.0)
    with pytest.raises(MovesMuch):
        correct_segment(segment, by=keeper, on=today, length_m=601.0, confirmed=asked.fingerprint)


def test_what_moves_little_or_rests_on_no_value_of_the_trend_is_not_asked(segment, keeper, today):
    correct_segment(segment, by=keeper, on=today, length_m=0.61, confirmed="")
    correct_segment(segment, by=keeper, on=today, lot="B-7", confirmed="")
    fitting = segment.fittings.get()
    correct_fitting(fitting, by=keeper, on=today, fitted_on=fitting.fitted_on - timedelta(5), confirmed="")
    reading = segment.measurements.last()
    mark_doubtful(reading, by=keeper, on=today, reason="wet adapter", confirmed="")
    clear_doubt(reading, by=keeper, on=today, reason="measured again", confirmed="")
    assert stored(segment) == 0.61


@pytest.mark.alike
def test_every_value_that_the_trend_rests_on_is_weighed(segment, keeper, today):
    by = {"by": keeper, "on": today}
    long_ago = today - timedelta(9000)
    asked_moves(correct_fitting, Fitting.objects.get(segment=segment), fitted_on=long_ago, **by)
    # beside others it would depart and be no part of the fit
    segment.measurements.all().delete()
    wrong = make_reading(segment, 30.0, today)
    asked_moves(void_reading, wrong, reason="another cable", **by)
    asked_moves(mark_doubtful, wrong, reason="another cable", **by)
    mark_doubtful(wrong, reason="another cable", **by)
    asked_moves(clear_doubt, wrong, reason="it was right", **by)
    segment.measurements.all().delete()
    asked_moves(correct_segment, segment, as_new_loss_db=20.0, **by)


def test_a_value_that_lies_too_far_from_the_readings_of_its_cable_is_left_out_and_moves_little(segment, keeper, today):
    correct_segment(segment, by=keeper, on=today, as_new_loss_db=20.0, confirmed="")
    assess_pool(today)
    fitted_on = segment.fittings.get().fitted_on
    assert PoolTrend.objects.get().left_out == [[segment.pk, fitted_on.isoformat(), 20.0]]


def test_readings_that_are_typed_are_never_asked_about(segment, keeper, today):
    typed = [TypedReading(segment, TypedLoss(19.0))]
    assert record_readings(segment.fittings.get().mat, typed, by=keeper, on=today, measured_on=today)


def test_whoever_corrects_without_anybody_to_ask_is_not_asked(segment, keeper, today):
    correct_segment(segment, by=keeper, on=today, length_m=600.0)
    assert stored(segment) == 600.0


@pytest.mark.parametrize(
    ("moves", "much", "sentences"),
    [
        (Moves(100, 46, 11, 3, {}), True, ["46 dates move, 3 by more than 90 days."]),
        (Moves(100, 46, 10, 0, {}), False, ["46 dates move, 10 by more than 30 days."]),
        (Moves(100, 1, 0, 0, {(NOW, OK): 1}), True, ["1 date moves.", "1 cable goes from change now to ok."]),
        (
            Moves(0, 0, 0, 0, {(SOON, OK): 2}),
            True,
            ["2 cables go from change within look-ahead to ok."],
        ),
        (Moves(0, 0, 0, 0, {(NOW, 2): 1}), True, ["1 cable goes from change now to change before an event."]),
        (Moves(0, 0, 0, 0, {}), False, []),
    ],
)
def test_moves_in_words(moves, much, sentences):
    assert moves.are_much == much
    assert moves.sentences == sentences


def sent(client, address, **typed):
    return client.post(address, form_in(client.get(address)) | typed)


def test_the_page_of_a_correction_asks_and_stores_once_it_is_ticked(keeper_client, segment):
    address = f"/cables/{segment}/correct/"
    asked = sent(keeper_client, address, length_m="6", serial="C-NEW")
    assert asked.status_code == 422
    text = words_in(asked.content.decode())
    assert "The trend of the whole pool rests on this value." in text
    assert " by more than 90 days." in text
    assert f'href="/cables/{segment}/"' in asked.content.decode(), "the way back leads to the cable as it is stored"
    assert stored(segment) == 0.6
    done = keeper_client.post(address, form_in(asked) | {"confirmed": asked.context["form"].ways[0][0]})
    assert done.status_code == 302
    assert (stored(segment), segment.serial) == (6.0, "C-NEW")


@pytest.mark.alike
def test_the_pages_of_a_fitting_and_of_a_reading_ask_alike(keeper_client, segment, today):
    fitting = segment.fittings.get()
    asked = sent(keeper_client, f"/cables/{segment}/fittings/{fitting.pk}/correct/", fitted_on="2001-01-01")
    assert "rests on this value" in asked.content.decode()
    segment.measurements.all().delete()
    wrong = make_reading(segment, 30.0, today)
    for act in ("void", "doubtful"):
        address = f"/readings/{wrong.pk}/{act}/"
        asked = sent(keeper_client, address, reason="another cable")
        assert "rests on this value" in asked.content.decode()
        assert 'value="another cable"' in asked.content.decode()
    assert (
        keeper_client.post(address, form_in(asked) | {"confirmed": asked.context["form"].ways[0][0]}).status_code == 302
    )


def test_weighing_takes_no_more_queries_for_more_rows(segment, keeper, today):
    counts = []
    for mats in (0, 2):
        make_mats(mats)
        with CaptureQueriesContext(connection) as queries:
            asked_moves(correct_segment, segment, by=keeper, on=today, length_m=600.0)
        counts.append(len(queries))
    assert counts[0] == counts[1]


# --- nobody waits while it is weighed


class Weighing:
    """Stands in for `what_moves`: `held` says for each time whether a transaction was open, beside that of the test."""

    def __init__(self, moves):
        self.moves, self.held, self.outer = moves, [], len(connection.savepoint_ids)

    def __call__(self, *args, **kwargs):
        self.held.append(len(connection.savepoint_ids) > self.outer)
        return self.moves


@pytest.fixture
def weighing(monkeypatch):
    def stand_in(moves):
        weighing = Weighing(moves)
        monkeypatch.setattr(moves_module, "what_moves", weighing)
        return weighing

    return stand_in


def test_a_page_weighs_while_others_may_write_and_what_was_ticked_is_not_weighed_again(
    keeper_client, segment, weighing
):
    address, weighed = f"/cables/{segment}/correct/", weighing(FAR)
    asked = sent(keeper_client, address, length_m="6")
    assert weighed.held == [False]
    ticked = form_in(asked) | {"confirmed": asked.context["form"].ways[0][0]}
    assert keeper_client.post(address, ticked).status_code == 302
    assert weighed.held == [False]
    assert stored(segment) == 6.0


def test_what_moves_little_is_weighed_once_and_stored(keeper_client, segment, weighing):
    weighed = weighing(LITTLE)
    assert sent(keeper_client, f"/cables/{segment}/correct/", length_m="0.61").status_code == 302
    assert weighed.held == [False]
    assert stored(segment) == 0.61


def test_what_was_ticked_before_the_pool_changed_is_weighed_again_and_counts(
    keeper_client, segment, weighing, keeper, today
):
    address, weighed = f"/cables/{segment}/correct/", weighing(FAR)
    asked = sent(keeper_client, address, length_m="6")
    reassess([segment.pk], on=today)
    ticked = form_in(asked) | {"confirmed": asked.context["form"].ways[0][0]}
    assert keeper_client.post(address, ticked).status_code == 302
    assert weighed.held == [False, False]


def test_a_pool_that_changes_all_the_time_is_weighed_in_the_end(monkeypatch, keeper_client, segment, weighing):
    weighed, counts = weighing(LITTLE), iter(range(1000))
    monkeypatch.setattr(moves_module, "changes_so_far", lambda: next(counts))
    assert sent(keeper_client, f"/cables/{segment}/correct/", length_m="0.61").status_code == 302
    assert weighed.held == [False] * TURNS + [True]


def test_weighed_before_or_after_it_moves_the_same(keeper_client, segment, keeper, today):
    page = sent(keeper_client, f"/cables/{segment}/correct/", length_m="6").context["form"].refused
    service = asked_moves(correct_segment, segment, by=keeper, on=today, length_m=6.0)
    assert page.moves == service.moves
    assert page.fingerprint == service.fingerprint
