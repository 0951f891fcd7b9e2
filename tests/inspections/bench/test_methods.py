"""What a number means hangs on the instrument and on how the cable was connected: asked once, kept per reading."""

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_cable_type, make_design, make_instrument, make_mat, make_reading, make_tester
from page_words import words_in

from fleet.figures import short_day
from fleet.models.segments import ASSUMED_CABLE
from fleet.selectors.seen import version_of
from inspections.assessment.services import reassess
from inspections.bench.moving_services import move_readings
from inspections.files.loading import load_pool_files
from inspections.files.sets import MEASUREMENTS
from inspections.models import Assessment, Measurement
from inspections.models.bench_days import bench_day_address

pytestmark = pytest.mark.django_db


def make_bench_mat(number="M-017", positions=4):
    """Nobody said which cable it is, so any loss may be typed for it."""
    cable_type = make_cable_type(ASSUMED_CABLE) if number == "M-017" else make_cable_type()
    return make_mat(number, make_design(lengths_m=[1.0] * positions, cable_type=cable_type), fitted=True)


@pytest.fixture
def mat(db):
    return make_bench_mat()


def segments_of(mat):
    return [fitting.segment for fitting in mat.fittings.order_by("position").select_related("segment")]


def address(mat):
    return reverse("inspections:bench-mat", args=[mat.number])


def form_of(mat, today, *texts, instrument=None, method="through", **values):
    """Texts: what is typed for each cable as found, in order of the positions."""
    losses = {f"found-{segment.pk}": text for segment, text in zip(segments_of(mat), texts, strict=False)}
    key = str(instrument.pk) if instrument else ""
    head = {"instrument": key, "method_for": key, "method": method, "measured_by": "Ida", "reason": "routine"}
    return {"token": uuid.uuid4(), "measured_on": today.isoformat(), **head, **losses, **values}


def verdicts(client, mat, form, row=""):
    url = reverse("inspections:bench-verdicts", args=[mat.number])
    return client.post(url, form | {"row": row}).content.decode()


def verdict_of(client, mat, form):
    """Of the first cable, in words."""
    one = segments_of(mat)[0]
    page = verdicts(client, mat, form, str(one.pk))
    return words_in(re.search(rf'#verdict-{one.pk}">(.*?)</div>\n', page, re.DOTALL).group(1))


def make_pocket(**values):
    return make_instrument("pocket", None, kind="one-port", **values)


@pytest.mark.parametrize("method", ["", "through"])
def test_with_one_port_a_method_must_be_chosen_and_it_is_not_through(method, bench_client, mat, today):
    answer = bench_client.post(address(mat), form_of(mat, today, "3.2", instrument=make_pocket(), method=method))
    page = words_in(answer.content.decode())
    assert (answer.status_code, Measurement.objects.count()) == (422, 0)
    assert "An analyser with one port sees one end only. Say what is at the far end" in page
    assert "No verdict yet: see above what is missing for all readings." in page


@pytest.mark.parametrize("method", ["far end open", "far end shorted"])
def test_a_return_loss_is_kept_as_shown_and_half_of_it_is_the_loss(method, bench_client, mat, today):
    form = form_of(mat, today, "3.2", instrument=make_pocket(), method=method)
    says = "3.20 shown, 1.60 dB loss: within 1.60 ± 0.20 dB, limit 3 dB, chance of being over below 0.1 %"
    assert verdict_of(bench_client, mat, form) == says
    assert bench_client.post(address(mat), form).status_code == 302
    assert list(Measurement.objects.values_list("loss_db", "method")) == [(3.2, method)]
    row = Assessment.objects.get(segment=segments_of(mat)[0])
    assert (row.loss_db, row.reference_loss_db, row.verdict) == (1.6, 1.6, "within")


def test_the_number_is_explained_where_the_method_is_chosen(bench_client, mat, today):
    form = form_of(mat, today, instrument=make_pocket(), method="far end open")
    page = words_in(verdicts(bench_client, mat, form))
    assert "The instrument shows return loss. Half of it is the loss of the cable." in page


@pytest.mark.parametrize(
    ("kind", "proposed"),
    [("two-port", "through"), ("response only", "through"), ("loss meter", "through"), ("one-port", None)],
)
def test_another_instrument_gets_the_method_proposed_that_fits_it(kind, proposed, bench_client, mat, today):
    other = make_instrument(kind=kind)
    form = form_of(mat, today, "3.2", method="on its element") | {"instrument": str(other.pk)}
    page = verdicts(bench_client, mat, form)
    chosen = re.search(r'name="method" value="([^"]*)"[^>]*checked', page)
    assert (chosen and chosen[1]) == proposed
    assert f'name="method_for" value="{other.pk}"' in page
    assert "autofocus" not in page, "what is renewed beside somebody who types takes no focus"


def test_an_answer_to_one_row_leaves_the_head_alone(bench_client, mat, today):
    page = verdicts(bench_client, mat, form_of(mat, today, "1.2"), str(segments_of(mat)[0].pk))
    assert "#bench-how" not in page
    assert "#bench-means" not in page


def test_a_method_that_is_being_chosen_is_not_taken_back_by_an_answer_on_its_way(bench_client, mat, today):
    pocket = make_pocket()
    page = verdicts(bench_client, mat, form_of(mat, today, instrument=pocket, method="far end open"))
    assert "#bench-means" in page
    assert 'name="method"' not in page


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("w", "within the tester said within, set to 3 dB"),
        ("over", "over the tester said over, set to 3 dB"),
        ("1.3", "1.3 is a number, and the tester shows none. Type w for within or o for over"),
    ],
)
def test_a_tester_speaks_in_words(typed, says, bench_client, mat, today):
    assert verdict_of(bench_client, mat, form_of(mat, today, typed, instrument=make_tester(3.0))).startswith(says)


def test_a_tester_set_above_the_limit_does_not_decide_that_it_is_within(bench_client, mat, today):
    says = verdict_of(bench_client, mat, form_of(mat, today, "w", instrument=make_tester(4.0)))
    assert says == "undecided the tester said within, set to 4 dB: that does not decide about 3 dB"


def test_a_word_of_another_instrument_and_a_number_of_a_tester_are_refused(bench_client, mat, today):
    for typed, instrument in (("o", make_instrument()), ("o", None), ("2.9", make_tester())):
        answer = bench_client.post(address(mat), form_of(mat, today, typed, instrument=instrument))
        assert (answer.status_code, Measurement.objects.count()) == (422, 0)
    assert "“over” is what a go/no-go tester says. Type the number of dB" in verdict_of(
        bench_client, mat, form_of(mat, today, "o")
    )


def test_words_are_kept_and_make_a_cable_due(bench_client, mat, today):
    answer = bench_client.post(address(mat), form_of(mat, today, "w", "o", instrument=make_tester()), follow=True)
    assert "2 readings saved. 1 over (position 2), 1 within." in answer.content.decode()
    assert list(Measurement.objects.order_by("pk").values_list("go_no_go", "loss_db", "method")) == [
        ("within", None, "through"),
        ("over", None, "through"),
    ]
    due = {row.segment_id: row.loss_due_on for row in Assessment.objects.all()}
    assert [due[segment.pk] for segment in segments_of(mat)[:2]] == [None, today]


@pytest.mark.parametrize(("kind", "method"), [("go/no-go", "far end open"), ("loss meter", "on its element")])
def test_what_needs_both_ends_is_not_used_from_one(kind, method, bench_client, mat, today):
    limit = {"set_limit_db": 3.0} if kind == "go/no-go" else {}
    instrument = make_instrument(standard_uncertainty_db=None, kind=kind, **limit)
    answer = bench_client.post(address(mat), form_of(mat, today, "w", instrument=instrument, method=method))
    assert (answer.status_code, "needs both ends of the cable" in answer.content.decode()) == (422, True)


def test_beside_the_word_of_a_tester_stands_the_newest_number(bench_client, mat, today):
    cable = mat.fittings.get(position=1).segment
    for days, loss_db, how in ((400, 1.1, "through"), (300, 2.8, "far end open"), (200, 9.9, "on its element")):
        make_reading(cable, loss_db, today - timedelta(days), method=how)
    make_reading(cable, None, today - timedelta(1), go_no_go="within", instrument=make_tester())
    reassess([cable.pk], on=today)
    shown = words_in(bench_client.get(address(mat)).text)
    assert (
        f"within (go/no-go) {short_day(today - timedelta(1))} 1.40 dB on {short_day(today - timedelta(300))}" in shown
    )


def test_from_one_end_there_is_always_a_number(bench_client, mat, today):
    form = form_of(mat, today, "no", instrument=make_pocket(), method="far end open")
    assert "From one end there is always a number." in verdict_of(bench_client, mat, form)


def test_on_its_element_a_cable_is_compared_with_its_own_earlier_one_only(bench_client, mat, today):
    pocket, one, earlier = make_pocket(), segments_of(mat)[0], today - timedelta(200)
    form = form_of(mat, today, "12.4", instrument=pocket, method="on its element")
    first = "on its element: no verdict the first one on its element with this instrument"
    assert verdict_of(bench_client, mat, form) == first
    make_reading(one, 12.1, earlier, instrument=pocket, method="on its element")
    make_reading(one, 9.0, earlier, repeat=2, instrument=make_instrument(), method="on its element")
    make_reading(one, 1.1, today - timedelta(3), instrument=make_instrument())
    says = verdict_of(bench_client, mat, form)
    assert says == f"on its element: no verdict 0.30 dB more than on {earlier:%-d %b %Y}"
    assert bench_client.post(address(mat), form).status_code == 302
    # the reading through the cable still decides
    assert Assessment.objects.get(segment=one).reference_loss_db == 1.1


def test_leads_that_were_not_taken_out_give_no_verdict(bench_client, mat, today):
    desk = make_instrument("desk", kind="two-port", leads_taken_out=True)
    form = form_of(mat, today, "1.9", instrument=desk)
    assert verdict_of(bench_client, mat, form) == "not referenced: no verdict"
    assert verdict_of(bench_client, mat, form | {"leads_out": "on"}).startswith("within 1.90")
    bench_client.post(address(mat), form)
    bench_client.post(address(mat), form_of(mat, today, "", "1.9", instrument=desk, leads_out="on"))
    assert list(Measurement.objects.order_by("pk").values_list("method", flat=True)) == ["not referenced", "through"]
    rows = {row.segment_id: row.verdict for row in Assessment.objects.all()}
    assert [rows[segment.pk] for segment in segments_of(mat)[:2]] == ["", "within"]


def test_leads_are_asked_about_only_where_an_instrument_wants_it(bench_client, mat):
    make_instrument("bridge")
    assert "Leads were taken out" not in bench_client.get(address(mat)).content.decode()
    make_instrument("desk", kind="two-port", leads_taken_out=True)
    page = words_in(bench_client.get(address(mat)).content.decode())
    assert "Leads were taken out by a through reading today" in page
    assert "Asked of desk. Without it there is no verdict." in page


def test_method_and_leads_are_remembered_for_the_day_and_leads_forgotten_overnight(bench_client, mat, today):
    desk = make_instrument("desk", kind="two-port", leads_taken_out=True)
    form = form_of(mat, today, "1.9", instrument=desk, method="far end open", leads_out="on")
    assert bench_client.post(address(mat), form).status_code == 302
    page = bench_client.get(address(mat)).content.decode()
    assert re.search(r'name="method" value="far end open"[^>]*checked', page)
    assert re.search(r'name="leads_out"[^>]*checked', page)
    session = bench_client.session
    session["bench"] |= {"typed_on": (today - timedelta(days=1)).isoformat()}
    session.save()
    page = bench_client.get(address(mat)).content.decode()
    assert re.search(r'name="method" value="far end open"[^>]*checked', page)
    assert not re.search(r'name="leads_out"[^>]*checked', page)


# (kind of the instrument, method, what is typed)
EVERY_WAY = [
    ("", "through", "3.2"),
    ("two-port", "through", "3.2"),
    ("two-port", "far end open", "3.2"),
    ("two-port", "far end shorted", "6.4"),
    ("two-port", "on its element", "3.2"),
    ("response only", "through", "2.9"),
    ("one-port", "far end open", "3.2"),
    ("one-port", "far end shorted", "6.4"),
    ("one-port", "on its element", "12.4"),
    ("loss meter", "through", "no signal"),
    ("go/no-go", "through", "within"),
    ("go/no-go", "through", "over"),
]
TOLD = ("loss_db", "reference_loss_db", "loss_uncertainty_db", "verdict", "loss_due_on", "go_no_go", "urgency", "cause")


@pytest.mark.parametrize(("kind", "method", "typed"), EVERY_WAY)
def test_typed_and_loaded_a_reading_gives_the_same_loss_and_due_list(kind, method, typed, bench_client, mat, today):
    known = {"set_limit_db": 3.0} if kind == "go/no-go" else {}
    instrument = make_instrument("box", None if kind else 0.1, kind=kind, **known)
    at_bench, from_file = segments_of(mat)[:2]
    assert (
        bench_client.post(address(mat), form_of(mat, today, typed, instrument=instrument, method=method)).status_code
        == 302
    )
    file = f"segment,measured_on,loss_db,instrument,method\n{from_file},{today},{typed},box,{method}\n"
    _, stored = load_pool_files({MEASUREMENTS.file: file.encode()}, by=None, on=today)
    assert stored is not None
    reassess(None, on=today)
    kept = [Measurement.objects.get(segment=segment) for segment in (at_bench, from_file)]
    assert kept[0].cable_loss_db == kept[1].cable_loss_db
    assert kept[0].shown == kept[1].shown
    rows = [Assessment.objects.filter(segment=segment).values(*TOLD).get() for segment in (at_bench, from_file)]
    assert rows[0] == rows[1]


def test_readings_that_move_to_another_mat_keep_what_was_shown_and_how(bench_hand, mat, today):
    other, pocket, tester = make_bench_mat("M-018"), make_pocket(), make_tester()
    one, two, *_ = segments_of(mat)
    readings = [
        make_reading(one, 3.2, today, instrument=pocket, method="far end open"),
        make_reading(two, measured_on=today, go_no_go="over", instrument=tester, method="through"),
    ]
    seen = {version_of(reading) for reading in readings}
    moved = move_readings(readings, mat, other, seen=seen, by=bench_hand, on=today, reason="wrong mat")
    assert [(row.loss_db, row.go_no_go, row.method) for row in moved] == [
        (3.2, "", "far end open"),
        (None, "over", "through"),
    ]


def test_every_list_of_readings_says_what_was_shown_and_the_loss(bench_client, mat, today):
    pocket, tester = make_pocket(), make_tester()
    one, two, three, four = segments_of(mat)
    make_reading(one, 3.2, today, instrument=pocket, method="far end open")
    make_reading(two, measured_on=today, go_no_go="within", instrument=tester)
    make_reading(three, 12.4, today, instrument=pocket, method="on its element")
    make_reading(four, 1.9, today, instrument=make_instrument(), method="not referenced")
    reassess(None, on=today)
    pages = [mat.get_absolute_url(), *(segment.get_absolute_url() for segment in (one, two, three, four))]
    said = [words_in(bench_client.get(page).content.decode()) for page in pages]
    words = (
        "3.20 return loss, far end open → 1.60",
        "within (go/no-go)",
        "12.40 on its element",
        "1.90 not referenced",
    )
    assert all(each in said[0] for each in words)
    assert all(each in page for each, page in zip(words, said[1:], strict=True))
    assert "on its element: no verdict" in said[3]
    assert "not referenced: no verdict" in said[4]
    bench = words_in(bench_client.get(address(mat)).content.decode())
    assert "3.20 dB return loss, far end open → 1.60 dB" in bench
    day = words_in(bench_client.get(bench_day_address(today, tester.pk)).content.decode())
    assert "a go/no-go tester shows no number" in day


def test_a_chart_of_losses_draws_the_loss_of_the_cable_and_no_word(bench_client, mat, today):
    one, two, *_ = segments_of(mat)
    make_reading(one, 3.2, today, instrument=make_pocket(), method="far end open")
    make_reading(two, measured_on=today, go_no_go="within", instrument=make_tester())
    reassess(None, on=today)
    chart = bench_client.get(one.get_absolute_url()).context["chart"]
    assert [dot.reading.loss_db for dot in chart.dots] == [1.6]
    assert bench_client.get(two.get_absolute_url()).context["chart"] is None


def test_a_row_takes_the_same_queries_for_4_and_16_cables(bench_client, today):
    counts = []
    for number, positions in (("M-4", 4), ("M-16", 16)):
        mat = make_bench_mat(number, positions)
        for method in ("through", "on its element"):
            form = form_of(mat, today, *["1.1"] * positions, method=method)
            verdicts(bench_client, mat, form)
            with CaptureQueriesContext(connection) as caught:
                verdicts(bench_client, mat, form)
            counts.append((method, len(caught)))
    assert counts[:2] == counts[2:]
