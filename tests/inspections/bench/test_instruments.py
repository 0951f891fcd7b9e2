"""Instruments: the keeper adds, corrects and withdraws them; their readings are judged by their uncertainty."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_instrument, make_mat, make_reading, make_segment, make_tester
from page_words import words_in

from inspections.assessment.services import reassess
from inspections.bench.instruments.selectors import repeatability_of
from inspections.models import Assessment, Instrument

pytestmark = pytest.mark.django_db
LIST = "/instruments/"


def values(instrument, **changes):
    return {
        "name": instrument.name,
        "standard_uncertainty_db": str(instrument.standard_uncertainty_db),
        "version": instrument.version,
        **changes,
    }


def test_an_instrument_is_added_with_a_decimal_comma(keeper_client, keeper):
    keeper_client.post(reverse("inspections:instrument-add"), {"name": "bridge A", "standard_uncertainty_db": "0,08"})
    assert list(Instrument.objects.values_list("name", "standard_uncertainty_db", "recorded_by")) == [
        ("bridge A", 0.08, keeper.pk)
    ]


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"name": "bridge A", "standard_uncertainty_db": "0.1"}, "There is bridge A already."),
        ({"name": " BRIDGE A ", "standard_uncertainty_db": "0.1"}, "There is bridge A already."),
        ({"name": "a/b", "standard_uncertainty_db": "0.1"}, "A code has no slash"),
        ({"name": "new", "standard_uncertainty_db": "0"}, "Write a number above 0."),
        ({"name": "", "standard_uncertainty_db": "0.1"}, "Fill in this field."),
        ({"name": "x" * 61, "standard_uncertainty_db": "0.1"}, "Write at most 60 characters; this has 61."),
    ],
)
def test_a_wrong_instrument_is_refused_with_a_sentence(form, says, keeper_client):
    make_instrument("bridge A")
    answer = keeper_client.post(reverse("inspections:instrument-add"), form)
    assert (answer.status_code, says in answer.content.decode(), Instrument.objects.count()) == (422, True, 1)


def test_a_corrected_uncertainty_judges_its_readings_anew_and_leaves_a_trail(keeper_client, today):
    bridge, mat = make_instrument("bridge A", 0.05), make_mat(fitted=True)
    segment = mat.fittings.first().segment
    make_reading(segment, 2.9, today, instrument=bridge)
    reassess(None, on=today)
    assert Assessment.objects.get(segment=segment).verdict == "within"
    url = reverse("inspections:instrument-correct", args=["bridge A"])
    keeper_client.post(url, values(bridge, standard_uncertainty_db="0.2", reason="new certificate"))
    assert Assessment.objects.get(segment=segment).verdict == "undecided"
    page = keeper_client.get(url).content.decode()
    assert "new certificate" in page
    assert "<del>0.05</del> → <ins>0.2</ins>" in page


def test_a_correction_on_an_old_page_is_refused(keeper_client):
    bridge = make_instrument("bridge A", 0.05)
    url = reverse("inspections:instrument-correct", args=["bridge A"])
    keeper_client.post(url, values(bridge, standard_uncertainty_db="0.2"))
    answer = keeper_client.post(url, values(bridge, standard_uncertainty_db="0.3"))
    assert answer.status_code == 422
    assert "Somebody else changed this meanwhile" in answer.content.decode()


def test_a_withdrawn_instrument_is_no_longer_offered_until_it_is_used_again(keeper_client, today):
    bridge, mat = make_instrument("bridge A"), make_mat(fitted=True)
    url = reverse("inspections:instrument-withdraw", args=["bridge A"])
    bench = reverse("inspections:bench-mat", args=[mat.number])
    keeper_client.post(url, {"withdrawn_on": today, "reason": "broken", "version": 1})
    offered = f'<option value="{bridge.pk}">bridge A</option>'
    assert offered not in keeper_client.get(bench).content.decode()
    assert "broken" in keeper_client.get(LIST).content.decode()
    keeper_client.post(url, {"reason": "repaired", "version": 2})
    assert offered in keeper_client.get(bench).content.decode()


def test_an_instrument_is_withdrawn_from_a_day_up_to_today(keeper_client, today):
    make_instrument("bridge A")
    url = reverse("inspections:instrument-withdraw", args=["bridge A"])
    form = {"reason": "  sold ", "version": 1}
    ahead = keeper_client.post(url, form | {"withdrawn_on": today + timedelta(days=1)})
    assert (ahead.status_code, "is after today" in ahead.content.decode()) == (422, True)
    keeper_client.post(url, form | {"withdrawn_on": today - timedelta(days=3)})
    sold = Instrument.objects.get()
    assert (sold.withdrawn_on, sold.withdrawal_reason) == (today - timedelta(days=3), "sold")


def test_everybody_sees_the_instruments_and_only_the_keeper_changes_them(visitor_client, bench_client):
    make_instrument("bridge A")
    for client in (visitor_client, bench_client):
        page = client.get(LIST).content.decode()
        assert "bridge A" in page
        assert "Withdraw" not in page
        for name, args in (("add", []), ("correct", ["bridge A"]), ("withdraw", ["bridge A"])):
            assert client.post(reverse(f"inspections:instrument-{name}", args=args), {}).status_code == 403


def test_no_instrument_yet_says_what_that_means(keeper_client):
    assert "No instrument yet." in keeper_client.get(LIST).content.decode()


def test_the_list_takes_the_same_queries_for_1_3_and_50(keeper_client):
    counts = []
    for more in (1, 2, 47):
        for _ in range(more):
            make_instrument()
        keeper_client.get(LIST)
        with CaptureQueriesContext(connection) as caught:
            keeper_client.get(LIST)
        counts.append(len(caught))
    assert counts[0] == counts[1] == counts[2]


def add(client, **form):
    return client.post(reverse("inspections:instrument-add"), {"name": "box", "standard_uncertainty_db": "", **form})


@pytest.mark.parametrize(
    ("kind", "usual_db"),
    [("two-port", 0.066), ("response only", 0.135), ("one-port", 0.2), ("loss meter", 0.15)],
)
def test_an_instrument_without_an_uncertainty_gets_the_usual_one_of_its_kind(kind, usual_db, keeper_client):
    assert add(keeper_client, kind=kind).status_code == 302
    box = Instrument.objects.get()
    assert (box.standard_uncertainty_db, box.uncertainty_db) == (None, usual_db)
    page = words_in(keeper_client.get(LIST).content.decode())
    assert f"{usual_db:g} dB usual for its kind, our judgement" in page


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({}, "Write a number of dB, or say above what it is."),
        ({"kind": "go/no-go"}, "Write the loss in dB from which on the tester says “over”."),
        ({"kind": "two-port", "set_limit_db": "3"}, "Leave it empty: only a go/no-go tester is set to a limit."),
        ({"kind": "one-port", "leads_taken_out": "on"}, "this kind of instrument cannot read its own leads through"),
        ({"kind": "a toaster"}, "Choose one of the values that are offered."),
    ],
)
def test_what_no_instrument_can_be_is_refused_with_what_to_do(form, says, keeper_client):
    answer = add(keeper_client, **form)
    assert (answer.status_code, Instrument.objects.count()) == (422, 0)
    assert says in words_in(answer.content.decode())


def test_a_tester_needs_its_set_limit_and_no_uncertainty(keeper_client):
    assert add(keeper_client, kind="go/no-go", set_limit_db="3").status_code == 302
    assert "go/no-go, set to 3 dB it shows no number" in words_in(keeper_client.get(LIST).content.decode())


def correct(client, instrument, **changes):
    url = reverse("inspections:instrument-correct", args=[instrument.name])
    return client.post(url, values(instrument, **{"kind": instrument.kind, **changes}))


def test_another_set_limit_judges_its_readings_anew(keeper_client, today):
    tester, mat = make_tester(3.0, "tester"), make_mat(fitted=True)
    segment = mat.fittings.first().segment
    make_reading(segment, measured_on=today, go_no_go="within", instrument=tester)
    reassess(None, on=today)
    assert Assessment.objects.get(segment=segment).verdict == "within"
    assert correct(keeper_client, tester, standard_uncertainty_db="", set_limit_db="4").status_code == 302
    assert Assessment.objects.get(segment=segment).verdict == "undecided"


def test_another_kind_judges_its_readings_anew(keeper_client, today):
    meter, mat = make_instrument("meter", None, kind="loss meter"), make_mat(fitted=True)
    segment = mat.fittings.first().segment
    make_reading(segment, 2.85, today, instrument=meter)
    reassess(None, on=today)
    assert Assessment.objects.get(segment=segment).verdict == "undecided"
    correct(keeper_client, meter, standard_uncertainty_db="", kind="two-port")
    assert Assessment.objects.get(segment=segment).verdict == "within"


def test_what_said_within_stays_a_go_no_go_tester(keeper_client, today):
    tester = make_tester(3.0, "tester")
    make_reading(make_segment(), measured_on=today, go_no_go="within", instrument=tester)
    answer = correct(keeper_client, tester, standard_uncertainty_db="0.1", kind="two-port")
    assert answer.status_code == 422
    assert "It said “within” or “over” 1 time, so it is a go/no-go tester." in answer.content.decode()


def test_one_port_with_numbers_read_through_asks_what_they_are(keeper_client, today):
    pocket = make_instrument("pocket", 0.1)
    make_reading(make_segment(), 3.2, today, instrument=pocket)
    asked = correct(keeper_client, pocket, kind="one-port")
    page = asked.content.decode()
    assert (asked.status_code, Instrument.objects.get().kind) == (422, "")
    assert "1 number of pocket" in page
    tick = re.search(r'name="confirmed" value="([^"]+)"', page)[1]
    assert correct(keeper_client, pocket, kind="one-port", confirmed=tick).status_code == 302
    assert Instrument.objects.get().kind == "one-port"


def test_repeats_of_its_own_offer_its_repeatability_and_it_is_never_set_by_itself(keeper_client, today):
    bridge, segment = make_instrument("bridge A"), make_segment()
    for repeat, loss_db in enumerate((1.00, 1.04, 1.08), 1):
        make_reading(segment, loss_db, today, repeat=repeat, instrument=bridge)
    # another day, another instrument, a doubtful one: no repeats of these
    make_reading(segment, 1.9, today - timedelta(days=1), instrument=bridge)
    make_reading(segment, 1.9, today, repeat=4, instrument=make_instrument())
    make_reading(segment, 1.9, today, repeat=5, instrument=bridge, doubt_reason="loose")
    url = reverse("inspections:instrument-correct", args=["bridge A"])
    page = keeper_client.get(url).content.decode()
    assert "From 3 repeats in 1 group of one cable" in words_in(page)
    assert "0.04 dB" in words_in(page)
    assert Instrument.objects.get(name="bridge A").repeatability_db is None
    used = keeper_client.get(url + "?use_repeats").content.decode()
    assert re.search(r'name="repeatability_db" value="0.04"', used)
    correct(keeper_client, bridge, repeatability_db="0.04")
    assert Instrument.objects.get(name="bridge A").repeatability_db == 0.04


def test_what_it_showed_by_reflection_counts_by_half(keeper_client, today):
    pocket, segment = make_instrument("pocket", None, kind="one-port"), make_segment()
    for repeat, shown_db in enumerate((2.0, 2.4), 1):
        make_reading(segment, shown_db, today, repeat=repeat, instrument=pocket, method="far end open")
    # 1.0 and 1.2 dB of the cable
    assert repeatability_of(pocket, today).sd_db == pytest.approx(0.2 / 2**0.5)
    page = keeper_client.get(reverse("inspections:instrument-correct", args=["pocket"])).content.decode()
    assert "That is more than 0.10 dB. Clean the connectors" in words_in(page)


def test_repeats_are_one_query_however_many(keeper_client, today, django_assert_num_queries):
    bridge = make_instrument("bridge A")
    for _ in range(20):
        segment = make_segment()
        for repeat in (1, 2):
            make_reading(segment, 1.0, today, repeat=repeat, instrument=bridge)
    with django_assert_num_queries(1):
        assert repeatability_of(bridge, today).readings == 40
