"""Samples over HTTP: drawn by the bench, measured from its page, ended and withdrawn by the keeper."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, make_instrument, make_mat, make_plain_design, make_reading
from page_words import words_in

from inspections.models import Measurement, Sample
from inspections.sampling.services import draw_sample

pytestmark = pytest.mark.django_db


@pytest.fixture
def mats():
    design = make_plain_design(2)
    return [make_mat(f"M-{number:03d}", design=design, fitted=True) for number in range(1, 13)]


def form(**values):
    usual = {"rule": "this pool", "share_percent": "10", "confidence_percent": "95", "seed": "77"}
    return {"token": str(uuid.uuid4()), **usual, **values}


def page(client, address):
    return words_in(client.get(address).content.decode())


def measured(sample, on, over=()):
    """Every mat of the sample measured whole; those in `over` over the limit."""
    for row in sample.mats.select_related("mat"):
        for fitting in row.mat.fittings.select_related("segment"):
            loss_db = 3.9 if row.mat.number in over else 1.0
            make_reading(fitting.segment, loss_db, on, reason="sample")


def test_the_page_offers_a_seed_and_shows_the_formula_with_its_numbers(bench_client, mats):
    shown = page(bench_client, "/samples/draw/")
    assert "if 2 or more of them were (⌈0.1 · 12⌉ = 2)" in shown
    assert "smallest n with C(12 − 2, n) / C(12, n) ≤ 0.05: n = 9" in shown
    assert "under 1 year" in shown or "1 to 2 years" in shown
    seeds = {bench_client.get("/samples/draw/").context["form"]["seed"].value() for _ in range(5)}
    assert len(seeds) > 1


def test_what_is_typed_is_worked_out_before_anything_is_drawn(bench_client, mats):
    asked = form(rule="success run", share_percent="50", confidence_percent="90", look="1")
    answer = bench_client.post("/samples/draw/", asked)
    assert answer.status_code == 200
    assert "n = ⌈ln(1 − 0.9) / ln(1 − 0.5)⌉ = ⌈ln 0.1 / ln 0.5⌉ = 4" in words_in(answer.content.decode())
    assert not Sample.objects.exists()


def test_a_drawn_sample_says_who_when_from_what_and_that_it_can_be_repeated(bench_client, bench_hand, mats):
    answer = bench_client.post("/samples/draw/", form(), follow=True)
    sample = Sample.objects.get()
    assert (sample.seed, sample.size, sample.recorded_by) == (77, 9, bench_hand)
    shown = words_in(answer.content.decode())
    assert "9 of 12 mats of the whole pool" in shown
    assert "Drawn again from the seed just now: the same 9 mats." in shown


def test_a_sample_of_which_the_frame_was_changed_is_not_said_to_be_the_same(bench_client, mats, on):
    sample = draw_sample(by=None, on=on, seed=3, rule="typed", size=4)
    Sample.objects.filter(pk=sample.pk).update(seed=4)
    assert "it gives other mats" in page(bench_client, f"/samples/{sample}/")


def test_a_form_sent_twice_draws_once(bench_client, mats):
    twice = form()
    first, second = (bench_client.post("/samples/draw/", twice) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Sample.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"rule": "typed"}, "Write a number."),
        ({"rule": "typed", "size": "0"}, "Write 1 or a number above it."),
        ({"share_percent": ""}, "Write a number."),
        ({"share_percent": "80"}, "A share is a number of % from 0.1 to 50."),
        ({"confidence_percent": "100"}, "A confidence is a number of % from 50 to 99.9."),
        ({"seed": "-1"}, "Write 0 or a number above it."),
        ({"seed": "9" * 30}, "Write 2.14748e+09 or a number below it."),
        ({"rule": "by hand"}, "Choose one of the values that are offered."),
        ({"depot": "nowhere"}, "Choose one of the values that are offered."),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands_and_kept(bench_client, mats, typed, said):
    make_mat("M-900", depot=make_depot("Quay"), fitted=True)
    answer = bench_client.post("/samples/draw/", form(note="after the floods", **typed))
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert said in words_in(shown)
    assert "after the floods" in shown
    assert not Sample.objects.exists()


def test_without_mats_it_says_so(bench_client):
    assert "nothing to draw from" in page(bench_client, "/samples/draw/")
    answer = bench_client.post("/samples/draw/", form())
    assert "nothing to draw from" in words_in(answer.content.decode())


def test_its_page_leads_to_the_bench_where_the_reason_is_sample_already(bench_client, mats, today):
    sample = draw_sample(by=None, on=today, seed=3, rule="typed", size=1)
    mat = sample.mats.get().mat
    link = f"/bench/{mat.number}/?reason=sample&amp;next=/samples/{sample}/"
    assert f'href="{link}"' in bench_client.get(f"/samples/{sample}/").content.decode()
    bench = bench_client.get(link.replace("&amp;", "&"))
    assert bench.context["form"]["reason"].value() == "sample"
    segment = mat.fittings.first().segment
    values = {"measured_on": str(today), "reason": "sample", f"found-{segment.pk}": "1.2", "token": str(uuid.uuid4())}
    answer = bench_client.post(link.replace("&amp;", "&"), values)
    assert answer["Location"] == f"/samples/{sample}/"
    assert Measurement.objects.get().reason == "sample"
    assert "1 of 2 cables" in page(bench_client, f"/samples/{sample}/")


def reason_proposed(client, mat, **query):
    return client.get(f"/bench/{mat}/", query).context["form"]["reason"].value()


def test_a_mat_that_a_sample_waits_for_is_taken_as_such_from_wherever_it_is_opened(bench_client, mats, today):
    sample = draw_sample(by=None, on=today, seed=3, rule="typed", size=1)
    mat = sample.mats.get().mat
    other = next(each for each in mats if each != mat)
    assert (reason_proposed(bench_client, mat), reason_proposed(bench_client, other)) == ("sample", "routine")
    assert f"is in the sample {sample} : measure all its cables" in page(bench_client, f"/bench/{mat}/")
    assert reason_proposed(bench_client, mat, reason="suspect") == "suspect"
    cables = [fitting.segment for fitting in mat.fittings.all()]
    values = {"measured_on": str(today), "reason": "sample", "token": str(uuid.uuid4())}
    bench_client.post(f"/bench/{mat}/", values | {f"found-{cables[0].pk}": "1.2"})
    assert (reason_proposed(bench_client, mat), reason_proposed(bench_client, other)) == ("sample", "routine")
    make_reading(cables[1], 1.0, today, reason="routine")
    assert reason_proposed(bench_client, mat) == "routine", "it is measured whole"


def test_no_sample_waits_for_a_mat_once_it_is_ended_or_withdrawn(bench_client, mats, today):
    sample = draw_sample(by=None, on=today, seed=3, rule="typed", size=1)
    mat = sample.mats.get().mat
    Sample.objects.update(ended_on=today)
    assert reason_proposed(bench_client, mat) == "routine"
    Sample.objects.update(ended_on=None, withdrawn_on=today)
    assert reason_proposed(bench_client, mat) == "routine"


def test_a_mat_that_left_service_is_said_to_and_nobody_is_asked_to_measure_it(bench_client, mats, today):
    sample = draw_sample(by=None, on=today, seed=3, rule="typed", size=2)
    gone = sample.mats.first().mat
    type(gone).objects.filter(pk=gone.pk).update(withdrawn_on=today, withdrawal_reason="torn")
    shown = page(bench_client, f"/samples/{sample}/")
    assert "0 of 1 are measured whole." in shown
    assert "1 mat left service before it was measured whole: it is in no share." in shown
    assert f"Measure {gone}" not in shown
    assert gone.number not in page(bench_client, f"/samples/{sample}/sheet/")


def test_a_reason_that_is_none_is_not_taken_from_an_address(bench_client, mats):
    assert bench_client.get("/bench/M-001/?reason=whim").context["form"]["reason"].value() == "routine"


def test_a_measured_sample_says_its_share_with_both_intervals(visitor_client, mats, on):
    """1 of 9 of 12. By hand: 4 of the 12 are too many, P(at most 1 of 9 | 4 of 12) = 4/220 = 0.018 < 0.025."""
    sample = draw_sample(by=None, on=on, seed=3, rule="typed", size=9)
    first = sample.mats.first().mat.number
    measured(sample, on, over=[first])
    shown = page(visitor_client, f"/samples/{sample}/")
    assert "Of 9 mats measured whole, 1 has a cable over the limit." in shown
    assert "Of the 12 mats drawn from, 1 to 3 have one" in shown
    assert "1 of 9, 11.1 % 0.3 to 48.2 %" in shown.replace("\N{NO-BREAK SPACE}", " ")
    assert "cables of one mat are alike" in shown


def test_former_samples_of_the_same_mats_stand_beside_and_others_do_not(visitor_client, mats, on):
    first = draw_sample(by=None, on=on - timedelta(days=400), seed=3, rule="typed", size=3)
    measured(first, on - timedelta(days=390))
    second = draw_sample(by=None, on=on, seed=4, rule="typed", size=3)
    quay = make_depot("Quay")
    make_mat("M-900", depot=quay, fitted=True)
    other = draw_sample(by=None, on=on, seed=4, rule="typed", size=1, depot=quay)
    shown = visitor_client.get(f"/samples/{second}/").context["compared"]
    assert [row.record.sample for row in shown.rows] == [second, first]
    assert visitor_client.get(f"/samples/{other}/").context["compared"] is None


def test_the_keeper_ends_it_with_a_reason_and_withdraws_one_drawn_by_mistake(keeper_client, mats, on):
    sample = draw_sample(by=None, on=on, seed=3, rule="typed", size=3)
    seen = {"row": sample.pk, "version": sample.version}
    keeper_client.post(f"/samples/{sample}/end/", {"reason": "bench closes", **seen})
    sample.refresh_from_db()
    assert sample.ended_on is not None
    again = keeper_client.post(f"/samples/{sample}/end/", {"reason": "bench closes", "row": sample.pk, "version": 2})
    assert again.status_code == 422 and "does not run any more" in words_in(again.content.decode())
    away = {"reason": "wrong depot", "withdrawn_on": str(sample.drawn_on), "row": sample.pk, "version": 2}
    keeper_client.post(f"/samples/{sample}/withdraw/", away)
    assert "wrong depot" in page(keeper_client, f"/samples/{sample}/")
    assert draw_sample(by=None, on=on, seed=3, rule="typed", size=3).same_asked == 0


def test_the_bench_sheet_has_a_line_for_each_cable_that_is_there_now(visitor_client, mats, on):
    sample = draw_sample(by=None, on=on, seed=3, rule="typed", size=2)
    sheet = page(visitor_client, f"/samples/{sample}/sheet/")
    for row in sample.mats.select_related("mat"):
        assert row.mat.number in sheet
        assert all(fitting.segment.serial in sheet for fitting in row.mat.fittings.select_related("segment"))
    for said in ("Date", "Instrument", "Temperature", "Method", "a reader on it", "Folds pinch fingers", "lift it"):
        assert said in sheet


def test_it_says_so_where_nothing_links_the_instruments_it_was_read_with(visitor_client, mats, on):
    sample = draw_sample(by=None, on=on, seed=3, rule="typed", size=2)
    measured(sample, on)
    bridge, meter = make_instrument("bridge"), make_instrument("meter")
    first, second = sample.mats.values_list("mat", flat=True)
    Measurement.objects.filter(segment__fittings__mat=first).update(instrument=bridge)
    Measurement.objects.filter(segment__fittings__mat=second).update(instrument=meter)
    said = page(visitor_client, f"/samples/{sample}/")
    assert "bridge and meter are not linked: they never read the same reference piece." in said


def test_pages_ask_no_more_of_the_database_for_more_mats(visitor_client, mats, on):
    def asked(address):
        visitor_client.get(address)
        with CaptureQueriesContext(connection) as queries:
            visitor_client.get(address)
        return len(queries)

    small = draw_sample(by=None, on=on, seed=3, rule="typed", size=1, note="small")
    few = [asked(f"/samples/{small}/{end}") for end in ("", "sheet/")]
    Sample.objects.update(withdrawn_on=on)
    large = draw_sample(by=None, on=on, seed=3, rule="typed", size=12)
    assert [asked(f"/samples/{large}/{end}") for end in ("", "sheet/")] == few
    listed = asked("/samples/")
    draw_sample(by=None, on=on, seed=9, rule="typed", size=12)
    assert asked("/samples/") == listed
