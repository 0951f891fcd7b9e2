"""Bench days: one row for each day and instrument, their list, and the page of each."""

from datetime import timedelta

import numpy as np
import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from factories import fit, make_instrument, make_mat, make_piece, make_piece_reading, make_reading, make_segment
from page_words import words_in

from fleet.models import Mat
from inspections.assessment.services import assess_pool, reassess
from inspections.bench.services import TypedReading, record_readings, void_reading
from inspections.models import BenchDay, Measurement
from inspections.validators import TypedLoss

pytestmark = pytest.mark.django_db
HIGH_DB = 0.5


@pytest.mark.parametrize("with_instrument", [True, False])
def test_a_day_and_an_instrument_are_one_bench_day_and_so_is_a_day_without_one(with_instrument, today):
    instrument = make_instrument() if with_instrument else None
    key = {"measured_on": today, "instrument": instrument}
    BenchDay.objects.create(**key, shift_db=0.1, shift_sd_db=0.04, readings=8)
    BenchDay.objects.create(measured_on=today, instrument=make_instrument(), shift_db=0, shift_sd_db=0.1, readings=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        BenchDay.objects.create(**key, shift_db=0.2, shift_sd_db=0.04, readings=4)


def loss_of(segment, fitted_on, day):
    return 0.3 + (0.5 + 0.25 * (day - fitted_on).days / 365.25) * segment.length_m


def make_pool():
    """Six mats, half of them read on each of 20 days that differ by less than 0.1 dB; the last of these reads high."""
    today, rng = timezone.localdate(), np.random.default_rng(2)
    fitted_on = today - timedelta(900)
    mats = [make_mat(fitted=True, fitted_on=fitted_on) for _ in range(6)]
    shifts = [*np.resize([0.04, -0.05, 0.02, -0.03, 0.05, 0.0, -0.04, 0.01], 19), HIGH_DB]
    for number, (day, shift_db) in enumerate(zip(days_before(today), shifts, strict=True)):
        for mat in mats[(number + 1) % 2 :: 2]:
            for fitting in mat.fittings.select_related("segment"):
                own_db = loss_of(fitting.segment, fitted_on, day)
                make_reading(fitting.segment, round(own_db + shift_db + 0.02 * rng.standard_normal(), 3), day)
    assess_pool(today)


def days_before(today):
    return [today - timedelta(900 - 44 * number) for number in range(1, 21)]


@pytest.fixture(scope="module")
def pool(shared_rows):
    with shared_rows(make_pool):
        yield


@pytest.fixture
def mats(pool):
    return list(Mat.objects.order_by("pk"))


@pytest.fixture
def days(pool, today):
    return days_before(today)


@pytest.fixture
def high(days):
    """The bench day that read high."""
    return BenchDay.objects.get(measured_on=days[-1])


def text_of(client, url):
    answer = client.get(url)
    assert answer.status_code == 200
    return words_in(answer.content.decode())


def test_the_list_names_each_day_the_newest_first_and_says_how_it_read(visitor_client, days):
    text = text_of(visitor_client, reverse("inspections:bench-day-list"))
    shown = [f"{day:%-d %b %Y}" for day in reversed(days)]
    assert sorted(shown, key=text.index) == shown
    newest, *_ = BenchDay.objects.newest_first()
    shift, sd = f"{newest.shift_db:.2f}", f"{newest.shift_sd_db:.2f}"
    assert f"read {shift} dB high +{shift} ± {sd} 12 not recorded" in text
    assert "about as usual" in text


def test_a_day_tells_its_readings_without_the_shift_and_against_what_was_expected(visitor_client, mats, high, today):
    row = high
    text = text_of(visitor_client, row.get_absolute_url())
    assert f"read {row.shift_db:.2f} dB (± {row.shift_sd_db:.2f}) high; this is taken out of its readings." in text
    page = visitor_client.get(row.get_absolute_url()).context["page"]
    assert [each.fitting.position for each in page.readings] == [1, 2, 3, 4] * 3
    fitted_on = today - timedelta(900)
    for each in page.readings:
        assert each.own_db == pytest.approx(each.loss_db - row.shift_db)
        # of its other readings it is expected to lose what it does
        assert each.expected_db == pytest.approx(loss_of(each.segment, fitted_on, row.measured_on), abs=0.15)
        assert each.off_db == pytest.approx(each.own_db - each.expected_db)
    first = mats[0].fittings.get(position=1).segment
    assert f"{first} {mats[0]} · 1" in text


@pytest.mark.parametrize(("number", "said"), [(-1, True), (0, False)])
def test_a_day_that_reads_far_off_says_what_to_do_first(visitor_client, days, number, said):
    text = text_of(visitor_client, BenchDay.objects.get(measured_on=days[number]).get_absolute_url())
    assert ("Look first at what was set up on that day: adapters, reference, instrument." in text) is said


def test_a_day_newer_than_the_trend_is_on_its_page_at_once_and_at_the_bench(bench_client, keeper, mats, today):
    bridge = make_instrument("bridge 2")
    losses = [(f.segment, round(loss_of(f.segment, f.fitted_on, today) + 0.4, 2)) for f in mats[0].fittings.all()]
    typed = [TypedReading(segment, TypedLoss(loss_db)) for segment, loss_db in losses]
    record_readings(mats[0], typed, by=keeper, on=today, measured_on=today, instrument=bridge)
    row = BenchDay.objects.get(measured_on=today)
    text = text_of(bench_client, row.get_absolute_url())
    assert f", bridge 2, read {row.shift_db:.2f} dB" in text
    assert "This day is newer than the pool’s trend" in text
    at_bench = text_of(bench_client, reverse("inspections:bench"))
    assert f"Today bridge 2: read {row.shift_db:.2f} dB high, 4 readings." in at_bench


def test_a_held_day_says_so_wherever_it_says_how_it_read(bench_client, keeper, mats, today):
    losses = [(f.segment, round(loss_of(f.segment, f.fitted_on, today), 2)) for f in mats[0].fittings.all()]
    typed = [TypedReading(segment, TypedLoss(loss_db)) for segment, loss_db in losses]
    record_readings(mats[0], typed, by=keeper, on=today, measured_on=today)
    make_piece_reading(make_piece(), 4.0, measured_on=today)
    held = "held: its reference piece was off, and nobody looked yet"
    for address in ("/bench-days/", "/bench/"):
        assert held in words_in(bench_client.get(address).text), address
    day = words_in(bench_client.get(f"/bench-days/{today}/0/").text)
    assert "It is held: its reference piece was off, and nobody looked yet." in day
    assert "this is taken out" not in day


def test_readings_that_have_no_part_are_told_apart_with_the_reason(visitor_client, keeper, mats, days, today):
    one, other, third, _ = [fitting.segment for fitting in mats[0].fittings.order_by("position")]
    wrong = Measurement.objects.get(segment=one, measured_on=days[-1])
    void_reading(wrong, by=keeper, on=today, reason="another cable")
    Measurement.objects.filter(segment=other, measured_on=days[-1]).update(doubt_reason="loose adapter")
    make_reading(third, None, days[-1], repeat=2)
    old = make_segment(1.6)
    fit(old, make_mat(), 1, days[0], fitted_basis="not later than")
    make_reading(old, 1.2, days[-1])
    reassess([one.pk, other.pk, third.pk, old.pk], on=today)
    page = visitor_client.get(BenchDay.objects.get(measured_on=days[-1]).get_absolute_url())
    text = words_in(page.content.decode())
    assert f"{wrong.loss_db:.2f} void since {today:%-d %b %Y}: another cable" in text
    assert "doubtful: loose adapter" in text and "no signal no signal" in text
    assert "the age of its cable is not known" in text
    assert not {one, other, third, old} & {each.segment for each in page.context["page"].readings}


def test_a_day_without_a_reading_that_counts_has_a_page_too(visitor_client, mats, today):
    bridge = make_instrument("bridge 1")
    make_reading(mats[0].fittings.first().segment, 1.0, today, instrument=bridge, doubt_reason="wet")
    text = text_of(visitor_client, reverse("inspections:bench-day", args=[today, bridge.pk]))
    assert "None of its readings counts for the trend. Read with bridge 1." in text
    assert "doubtful: wet" in text


def test_before_there_is_a_trend_the_shift_is_said_not_to_be_known(visitor_client, mats, high):
    Measurement.objects.exclude(measured_on=high.measured_on).delete()
    assess_pool(timezone.localdate())
    assert "there is no trend of the pool yet" in text_of(visitor_client, reverse("inspections:bench-day-list"))
    assert "cannot be compared with others" in text_of(visitor_client, high.get_absolute_url())


@pytest.mark.parametrize(
    "address",
    ["2026-05-12/0/", "2026-02-30/0/", "0000-01-01/0/", "2026-05-12/77/", "2026-05-12/99999999999999999999/", "x/0/"],
)
def test_a_day_on_which_nothing_was_read_is_not_found(visitor_client, address):
    assert visitor_client.get(f"/bench-days/{address}").status_code == 404


def test_neither_page_asks_more_of_a_longer_day(visitor_client, mats, high, today):
    address = high.get_absolute_url()
    counts = []
    for _ in range(2):
        for url in (reverse("inspections:bench-day-list"), address):
            visitor_client.get(url)
            with CaptureQueriesContext(connection) as queries:
                visitor_client.get(url)
            counts.append(len(queries))
        Measurement.objects.filter(segment__fittings__mat__in=mats[1:], measured_on=high.measured_on).delete()
        assess_pool(today)
    assert counts[:2] == counts[2:]


def test_a_reading_leads_to_its_bench_day(bench_client, mats, high):
    segment = mats[0].fittings.first().segment
    reading, address = segment.measurements.get(measured_on=high.measured_on), high.get_absolute_url()
    pages = segment.get_absolute_url(), reverse("inspections:reading-void", args=[reading.pk])
    for url in (*pages, reverse("inspections:pool"), reverse("inspections:bench-day-list")):
        assert f'href="{address}"' in bench_client.get(url).content.decode(), url
