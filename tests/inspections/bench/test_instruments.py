"""Instruments: the keeper adds, corrects and withdraws them; their readings are judged by their uncertainty."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_instrument, make_mat, make_reading

from inspections.assessment.services import reassess
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
