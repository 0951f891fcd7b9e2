"""The bench over HTTP: what was typed is kept or stays, and each loss is judged by the server's one rule."""

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import fit, make_cable_type, make_design, make_instrument, make_mat, make_reading, make_segment
from page_forms import form_in
from page_words import words_in

from fleet.models.segments import ASSUMED_CABLE
from inspections.assessment.services import reassess
from inspections.models import Measurement

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(db):
    """Nobody said which cable it is, so any loss may be typed for it."""
    return make_mat("M-017", make_design(cable_type=make_cable_type(ASSUMED_CABLE)), fitted=True)


def segments_of(mat):
    return [fitting.segment for fitting in mat.fittings.order_by("position").select_related("segment")]


def address(mat):
    return reverse("inspections:bench-mat", args=[mat.number])


def form_of(today, losses, **values):
    """`losses`: field name to text."""
    head = {
        "frequency_mhz": "900",
        "temperature_c": "20",
        "instrument": "",
        "measured_by": "Ida",
        "reason": "routine",
        "method": "through",
    }
    return {"token": uuid.uuid4(), "measured_on": today.isoformat(), **head, **losses, **values}


def found(segment, text):
    return {f"found-{segment.pk}": text}


def kept():
    return list(Measurement.objects.order_by("segment__fittings__position", "repeat").values_list("loss_db", flat=True))


def test_typed_losses_are_kept_and_empty_fields_left_out(bench_client, bench_hand, mat, today):
    one, two, three, four = segments_of(mat)
    losses = found(one, "1,31") | found(two, "-1.4 dB") | found(three, "") | found(four, "no")
    answer = bench_client.post(address(mat), form_of(today, losses), follow=True)
    assert kept() == [1.31, 1.4, None]
    assert Measurement.objects.values_list("segment", "no_signal", "recorded_by", "measured_by").last() == (
        four.pk,
        True,
        bench_hand.pk,
        "Ida",
    )
    assert "M-017: 3 readings saved. 1 over (position 4), 2 within." in answer.content.decode()


def test_a_cable_read_twice_is_told_once_by_what_it_reads_after_cleaning(bench_client, mat, today):
    one, two, *_ = segments_of(mat)
    losses = found(one, "3.6") | {f"cleaned-{one.pk}": "1.2"} | found(two, "3.6")
    answer = bench_client.post(address(mat), form_of(today, losses), follow=True)
    assert "3 readings saved. 1 over (position 2), 1 within." in answer.content.decode()


def test_after_cleaning_stands_beside_as_found(bench_client, mat, today):
    one, *_ = segments_of(mat)
    bench_client.post(address(mat), form_of(today, found(one, "2.2") | {f"cleaned-{one.pk}": "1.2"}))
    assert list(Measurement.objects.order_by("repeat").values_list("loss_db", "taken")) == [
        (2.2, "as found"),
        (1.2, "after cleaning"),
    ]


def test_what_is_measured_on_the_day_of_fitting_is_at_fitting(bench_client, today):
    mat, fresh = make_mat(), make_segment()
    fit(fresh, mat, 1, fitted_on=today)
    bench_client.post(address(mat), form_of(today, found(fresh, "0.9")))
    assert list(Measurement.objects.values_list("loss_db", "taken")) == [(0.9, "at fitting")]


def test_the_same_form_sent_twice_is_kept_once(bench_client, mat, today):
    form = form_of(today, found(segments_of(mat)[0], "1.31"))
    answers = [bench_client.post(address(mat), form) for _ in range(2)]
    assert [(answer.status_code, answer.url) for answer in answers] == [(302, reverse("inspections:bench"))] * 2
    assert kept() == [1.31]


def test_one_wrong_loss_keeps_none_and_all_that_was_typed_stays(bench_client, mat, today):
    one, two, three, _ = segments_of(mat)
    losses = found(one, "1,31") | found(two, "1.3.1") | found(three, "no")
    answer = bench_client.post(address(mat), form_of(today, losses, measured_by="Ida Quill"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert kept() == []
    assert re.findall(r'name="found-\d+" value="([^"]*)"', page) == ["1,31", "1.3.1", "no"]
    assert "Ida Quill" in page
    assert re.findall(r'name="([^"]*)"[^>]*\bautofocus', page) == [f"found-{two.pk}"]
    assert f'<a href="#id_found-{two.pk}">position 2, as found, dB</a>: “1.3.1” is not a loss' in page


def test_a_form_without_a_loss_says_so(bench_client, mat, today):
    answer = bench_client.post(address(mat), form_of(today, {}))
    assert (answer.status_code, "Type at least one loss." in answer.content.decode()) == (422, True)


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("measured_on", "soon", "Write a day that the calendar has"),
        ("frequency_mhz", "0", "A frequency is a number of MHz"),
        ("temperature_c", "400", "A temperature is a number of °C"),
        ("instrument", "999", "Choose one of the values that are offered."),
        ("reason", "boredom", "Choose one of the values that are offered."),
    ],
)
def test_a_wrong_head_is_named_and_the_losses_stay(field, text, says, bench_client, mat, today):
    form = form_of(today, found(segments_of(mat)[0], "1,31"), **{field: text})
    answer = bench_client.post(address(mat), form)
    page = answer.content.decode()
    assert (answer.status_code, kept()) == (422, [])
    assert says in page
    assert 'value="1,31"' in page


def test_a_day_after_today_is_refused(bench_client, mat, today):
    tomorrow = today + timedelta(days=1)
    answer = bench_client.post(address(mat), form_of(tomorrow, found(segments_of(mat)[0], "1.3")))
    assert (answer.status_code, "is after today" in answer.content.decode(), kept()) == (422, True, [])


def test_above_20_db_asks_and_the_tick_holds_for_that_number_only(bench_client, mat, today):
    one, *_ = segments_of(mat)
    asked = bench_client.post(address(mat), form_of(today, found(one, "25")))
    tick = f'name="sure-found-{one.pk}" value="25"'
    assert (asked.status_code, tick in asked.content.decode(), kept()) == (422, True, [])
    other = bench_client.post(address(mat), form_of(today, found(one, "52") | {f"sure-found-{one.pk}": "25"}))
    assert (other.status_code, kept()) == (422, [])
    bench_client.post(address(mat), form_of(today, found(one, "25") | {f"sure-found-{one.pk}": "25"}))
    assert kept() == [25.0]


def test_an_unusual_temperature_is_asked_about_and_what_was_typed_stays(bench_client, mat, today):
    form = form_of(today, found(segments_of(mat)[0], "1,31"), temperature_c="68")
    asked = bench_client.post(address(mat), form)
    page = asked.content.decode()
    assert (asked.status_code, kept()) == (422, [])
    assert "Temperature in °C: 68. A temperature is mostly -20 to 45 °C. Did you mean 20 °C (68 °F)?" in page
    assert 'value="1,31"' in page
    tick = re.search(r'name="confirmed" value="([^"]+)"', page)[1]
    assert bench_client.post(address(mat), form | {"confirmed": tick}).status_code == 302
    assert kept() == [1.31]


def test_a_cable_changed_meanwhile_keeps_what_was_typed_and_says_so(bench_client, mat, today):
    gone, *_ = segments_of(mat)
    gone.fittings.update(removed_on=today)
    answer = bench_client.post(address(mat), form_of(today, found(gone, "1.31")))
    page = answer.content.decode()
    assert (answer.status_code, kept()) == (422, [])
    assert f"{gone} was not in this mat on that day" in page
    assert 'value="1.31"' in page


def test_a_reading_of_an_earlier_day_goes_to_the_cable_that_was_there(bench_client, today):
    mat, old, new = make_mat(), make_segment(), make_segment()
    fit(old, mat, 1, removed_on=today)
    fit(new, mat, 1, fitted_on=today)
    bench_client.post(address(mat), form_of(today - timedelta(days=1), found(old, "1.31")))
    assert list(Measurement.objects.values_list("segment", "loss_db")) == [(old.pk, 1.31)]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("1,31", "within 1.31 ± 0.15 dB, limit 3 dB, chance of being over below 0.1 %"),
        ("2.9", "undecided 2.90 ± 0.15 dB, too close to the limit of 3 dB, chance of being over 25 %"),
        ("3.4", "over 3.40 ± 0.15 dB, limit 3 dB, chance of being over above 99 %"),
        ("no", "over: no signal"),
        ("131", "A loss is a number of dB from 0 to below 100, such as 1.31."),
        ("25", "25 dB is very high. Tick to confirm it. Yes, 25 dB was measured"),
        ("", ""),
    ],
)
def test_leaving_a_field_tells_at_once_what_the_loss_means(typed, says, bench_client, mat, today):
    one, *_ = segments_of(mat)
    form = form_of(today, found(one, typed), row=str(one.pk))
    page = bench_client.post(reverse("inspections:bench-verdicts", args=[mat.number]), form).content.decode()
    cell = re.search(rf'<div hx-swap-oob="innerHTML:#verdict-{one.pk}">(.*?)</div>\n', page, re.DOTALL).group(1)
    assert words_in(cell) == says
    assert page.count("#verdict-") == 1
    assert kept() == []


def test_another_instrument_changes_the_verdicts_of_all_rows(bench_client, mat, today):
    one, two, *_ = segments_of(mat)
    sharp = make_instrument(standard_uncertainty_db=0.05)
    form = form_of(today, found(one, "2.9") | found(two, "3.1"), instrument=sharp.pk)
    page = bench_client.post(reverse("inspections:bench-verdicts", args=[mat.number]), form).content.decode()
    assert re.findall(r"<span>(within|over|undecided)</span>", page) == ["within", "over"]
    assert "2 of 4 typed" in page


def test_a_frequency_outside_the_band_is_kept_but_not_compared(bench_client, mat, today):
    one, *_ = segments_of(mat)
    form = form_of(today, found(one, "1.31"), frequency_mhz="433", row=str(one.pk))
    page = bench_client.post(reverse("inspections:bench-verdicts", args=[mat.number]), form).content.decode()
    assert "not compared" in page


def test_what_holds_for_all_is_remembered_for_the_next_mat_of_the_day(bench_client, mat, today):
    bridge, earlier = make_instrument("bridge"), today - timedelta(days=3)
    values = {"instrument": bridge.pk, "frequency_mhz": "866,5", "reason": "suspect", "measured_by": "Ida Quill"}
    bench_client.post(address(mat), form_of(earlier, found(segments_of(mat)[0], "1.31"), **values))
    page = " ".join(bench_client.get(address(make_mat(fitted=True))).content.decode().split())
    assert f"{earlier.day} {earlier:%b %Y}, 866.5 MHz, 20 °C, bridge, through, Ida Quill, suspect" in " ".join(
        page.split()
    )


def test_a_remembered_day_is_forgotten_overnight(bench_client, mat, today):
    bench_client.post(address(mat), form_of(today - timedelta(days=3), found(segments_of(mat)[0], "1.31")))
    session = bench_client.session
    session["bench"] |= {"typed_on": (today - timedelta(days=1)).isoformat()}
    session.save()
    assert f'name="measured_on" value="{today.isoformat()}"' in bench_client.get(address(mat)).content.decode()


def test_the_page_shows_an_empty_position_and_the_readings_of_the_day(bench_client, today):
    mat, segment = make_mat(), make_segment()
    fit(segment, mat, 2)
    make_reading(segment, 1.31, today)
    make_reading(segment, 1.33, today, repeat=2)
    text = words_in(bench_client.get(address(mat)).content.decode())
    assert "1 empty" in text
    assert "1.31 dB as found 1.33 dB as found, repeat 2 saved for this day" in text


def test_a_mat_without_cables_says_what_to_do_first(bench_client):
    page = bench_client.get(address(make_mat())).content.decode()
    assert "No cable is in this mat." in page


def test_each_field_for_a_loss_tells_a_screen_reader_its_position(bench_client, mat):
    page = bench_client.get(address(mat)).content.decode()
    labels = re.findall(r'<input[^>]*name="(?:found|cleaned)-\d+"[^>]*aria-label="([^"]+)"', page)
    assert labels == [f"position {n}, {taken}, dB" for n in range(1, 5) for taken in ("as found", "after cleaning")]


def test_a_pool_without_mats_is_told_what_to_do_first(bench_client):
    page = bench_client.get(reverse("inspections:bench")).content.decode()
    assert "No mat is in use yet." in page
    assert "No mat has that in its number" not in page


def test_an_unknown_mat_is_not_found(bench_client):
    assert bench_client.get("/bench/M-999/").status_code == 404


def test_the_search_goes_straight_to_the_mat_that_is_meant(bench_client, mat):
    serial = segments_of(mat)[1].serial
    for text in ("m-017", " 017 ", serial):
        assert bench_client.get(reverse("inspections:bench"), {"q": text}).url == address(mat)
    page = bench_client.get(reverse("inspections:bench"), {"q": "nothing"}).content.decode()
    assert "No mat has that in its number" in page


def test_a_visitor_does_not_measure(visitor_client, mat, today):
    form = form_of(today, found(segments_of(mat)[0], "1.31"))
    assert visitor_client.get(reverse("inspections:bench")).status_code == 403
    assert visitor_client.post(address(mat), form).status_code == 403
    assert kept() == []


def queries(client, url):
    with CaptureQueriesContext(connection) as caught:
        assert client.get(url).status_code == 200
    return len(caught)


def test_the_list_of_mats_takes_the_same_queries_for_1_3_and_50(bench_client, today):
    counts = []
    for more in (1, 2, 47):
        for _ in range(more):
            make_mat(fitted=True)
        reassess(None, on=today)
        bench_client.get(reverse("inspections:bench"))
        counts.append(queries(bench_client, reverse("inspections:bench")))
    assert counts[0] == counts[1] == counts[2]


def test_the_page_of_a_mat_takes_the_same_queries_for_1_3_and_50_positions(bench_client, today):
    mats = [make_mat(design=make_design(lengths_m=[1.0] * n), fitted=True) for n in (1, 3, 50)]
    for mat in mats:
        for segment in segments_of(mat):
            make_reading(segment, 1.31, today, instrument=make_instrument())
    reassess(None, on=today)
    counts = [queries(bench_client, address(mat)) for mat in mats]
    assert counts[0] == counts[1] == counts[2]


def test_a_guessed_day_of_fitting_makes_no_reading_at_fitting(bench_client, today):
    mat = make_mat("M-9", fitted=True, fitted_on=today)
    guessed = mat.fittings.get(position=1)
    guessed.fitted_basis = "not later than"
    guessed.save()
    losses = {f"found-{fitting.segment_id}": "0.5" for fitting in mat.fittings.filter(position__lte=2)}
    bench_client.post("/bench/M-9/", form_in(bench_client.get("/bench/M-9/")) | losses)
    taken = Measurement.objects.order_by("segment__fittings__position").values_list("taken", flat=True)
    assert list(taken) == ["as found", "at fitting"]
