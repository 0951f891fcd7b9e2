"""The record of a mat: each reading from what was shown to its verdict, and kept as it was printed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from factories import fit, make_fault, make_instrument, make_mat, make_reading, make_segment, make_tester

from inspections.assessment.services import assess_pool
from inspections.bench.services import void_reading
from inspections.models import MatRecord
from inspections.records.contents import content_of, read_told

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    """Three cables, measured with three instruments by three methods; a fourth place was never measured."""
    mat = make_mat("M-1", fitted=True, fitted_on=today - timedelta(days=400), owner="Fen runners")
    desk = make_instrument("desk", None, kind="two-port")
    pocket = make_instrument("pocket", None, kind="one-port")
    first, second, third = (mat.fittings.get(position=number).segment for number in (1, 2, 3))
    make_reading(first, 1.31, today, instrument=desk, method="through", frequency_mhz=900)
    make_reading(second, 3.24, today, instrument=pocket, method="far end open", temperature_c=30)
    make_reading(third, go_no_go="within", measured_on=today, instrument=make_tester(3.0, "tester"))
    assess_pool(today)
    return mat


def make(client, mat, **typed):
    page = client.get(reverse("inspections:record-make", args=[mat.number]))
    token = page.context["form"]["token"].value()
    return client.post(page.request["PATH_INFO"], {"token": token, **typed})


def the_record():
    return MatRecord.objects.get()


def rows(record, *names):
    return [[row[name] for name in names] for row in record.content["readings"]]


def test_three_instruments_by_three_methods_give_one_page_that_can_be_followed_by_hand(bench_client, mat):
    make(bench_client, mat)
    # half of 3.24 dB is 1.62; at 30 degrees 1.62 / (1 + 0.002 * 10) = 1.588
    assert rows(the_record(), "position", "shown", "how", "loss", "at_reference", "judged", "instrument") == [
        [1, "1.31 dB at 900 MHz", "through", "1.31 dB", "1.31 dB ± 0.07",
         "within, chance of being over below 0.1\xa0%", "desk"],
        [2, "3.24 dB return loss at 30 °C", "far end open", "half: 1.62 dB", "1.59 dB ± 0.20",
         "within, chance of being over below 0.1\xa0%", "pocket"],
        [3, "within, set to 3 dB", "not recorded, taken as through", "", "",
         "within, limit 3 dB", "tester"],
    ]  # fmt: skip
    said = [[row[name] for name in ("position", "loss", "verdict")] for row in the_record().content["positions"]]
    assert said == [
        [1, "1.31 dB", "within"],
        [2, "1.59 dB", "within"],
        [3, "within (go/no-go)", "within"],
        [4, "not measured", ""],
    ]


def test_it_says_what_it_does_not_show(bench_client, mat):
    make(bench_client, mat)
    not_shown = the_record().content["not_shown"]
    assert not_shown[0] == "Position 4: not measured, so their loss is not known."
    assert "The uncertainty of desk, pocket is our judgement" in " ".join(not_shown)
    assert any(sentence.startswith("desk and pocket never read the same reference piece") for sentence in not_shown)


def test_a_correction_made_later_changes_no_record(bench_client, mat, keeper, today):
    answer = make(bench_client, mat)
    # what was said of the act is said once
    bench_client.get(answer.url)
    before = bench_client.get(the_record().get_absolute_url()).content
    reading = mat.fittings.get(position=2).segment.measurements.get()
    void_reading(reading, by=keeper, on=today, reason="wrong mat")
    assert bench_client.get(the_record().get_absolute_url()).content == before
    make(bench_client, mat)
    newest = MatRecord.objects.first()
    assert (newest.number, rows(newest, "void")[1]) == (f"R-{today.year}-2", ["void: wrong mat"])


def test_a_period_leaves_out_what_is_older_but_for_what_a_verdict_rests_on(bench_client, mat, today):
    first, second = (mat.fittings.get(position=number).segment for number in (1, 2))
    make_reading(first, 1.2, today - timedelta(days=90))
    second.measurements.update(measured_on=today - timedelta(days=80))
    assess_pool(today)
    make(bench_client, mat, from_on=(today - timedelta(days=30)).isoformat())
    assert rows(the_record(), "position", "shown") == [
        [1, "1.31 dB at 900 MHz"], [3, "within, set to 3 dB"], [2, "3.24 dB return loss at 30 °C"],
    ]  # fmt: skip
    assert "1 earlier reading of this mat is not listed." in the_record().content["not_shown"]


def test_what_was_found_and_changed_stands_on_it(bench_client, mat, today):
    make_fault(mat, "cover or fold", None, today, what="torn")
    fit(make_segment(0.6, "C-NEW"), make_mat("M-2"), 1, today)
    make(bench_client, mat)
    content = the_record().content
    assert [(fault["where"], fault["what"], fault["end"]) for fault in content["found"]] == [
        ("cover or fold", "torn", "still open")
    ]
    assert [change["way"] for change in content["changed"]] == ["put in"] * 4


def test_a_form_sent_twice_makes_one_record(bench_client, mat):
    page = bench_client.get(reverse("inspections:record-make", args=[mat.number]))
    typed = {"token": page.context["form"]["token"].value(), "made_for": "hill club"}
    for _ in range(2):
        answer = bench_client.post(page.request["PATH_INFO"], typed)
    assert (answer.url, MatRecord.objects.count()) == (the_record().get_absolute_url(), 1)


def test_a_day_after_today_is_refused_and_what_was_typed_stays(bench_client, mat, today):
    answer = make(bench_client, mat, from_on=(today + timedelta(days=1)).isoformat(), made_for="hill club")
    assert (answer.status_code, MatRecord.objects.count()) == (422, 0)
    assert answer.context["form"]["made_for"].value() == "hill club"


def test_a_withdrawn_one_stays_and_says_so(keeper_client, mat, today):
    make(keeper_client, mat)
    record = the_record()
    page = keeper_client.get(reverse("inspections:record-withdraw", args=[record.number]))
    typed = {name: page.context["form"][name].value() for name in ("row", "version")} | {"reason": "wrong owner"}
    assert keeper_client.post(page.request["PATH_INFO"], typed).status_code == 302
    assert "Withdrawn" in keeper_client.get(record.get_absolute_url()).content.decode()
    assert "wrong owner" in keeper_client.get(mat.get_absolute_url()).content.decode()


def test_the_queries_do_not_grow_with_cables_and_readings(today, django_assert_max_num_queries):
    counts, instruments = [], [make_instrument(), make_instrument()]
    for cables in (2, 6):
        mat = make_mat(f"M-{cables}")
        for number in range(1, cables + 1):
            segment = make_segment(0.6)
            fit(segment, mat, number, today - timedelta(days=90))
            make_reading(segment, 1.2, today, instrument=instruments[number % 2])
            make_fault(mat, "cable", number, today, number=number)
        assess_pool(today)
        with django_assert_max_num_queries(20) as captured:
            assert len(content_of(read_told(mat, None, today))["readings"]) == cables
        counts.append(len(captured))
    assert counts[0] == counts[1]
