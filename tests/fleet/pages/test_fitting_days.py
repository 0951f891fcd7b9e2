"""When were these cables fitted? One answer corrects the cables of whole mats, each with its trail."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_mat, make_plain_design, make_plain_segment
from page_forms import form_in
from page_words import words_in

from fleet.models import Fitting
from inspections.models import Assessment

pytestmark = pytest.mark.django_db
URL = "/fittings/when/"
NOT_LATER_THAN = {"fitted_basis": "not later than"}


def mat_of_unknown_age(number, fitted_on=date(2022, 12, 31), positions=3):
    mat = make_mat(number, design=make_plain_design(positions))
    for position in range(1, positions + 1):
        fit(make_plain_segment(), mat, position, fitted_on, **NOT_LATER_THAN)
    return mat


@pytest.fixture
def mats():
    return [mat_of_unknown_age("6"), mat_of_unknown_age("M-017")]


def answered(client, asked="", **typed):
    address = URL + asked
    return client.post(address, form_in(client.get(address)) | {"known": "then"} | typed, follow=True)


def days_of(mat):
    return {(str(day), basis) for day, basis in mat.fittings.values_list("fitted_on", "fitted_basis")}


def text_of(answer):
    return words_in(answer.content.decode())


@pytest.mark.parametrize(
    ("known", "when", "stored", "said"),
    [
        ("then", "12 March 2021", ("2021-03-12", "known"), "Fitted 12 Mar 2021: 3 cables of mat 6."),
        ("then", "April 2021", ("2021-04-15", "about"), "Fitted about Apr 2021: 3 cables of mat 6."),
        ("then", "2021", ("2021-07-01", "about"), "Fitted about 2021: 3 cables of mat 6."),
        ("by then", "2021", ("2021-12-31", "not later than"), "Fitted 31 Dec 2021 or earlier: 3 cables of mat 6."),
    ],
)
def test_one_answer_is_kept_for_all_cables_of_the_mats_that_are_ticked(keeper_client, mats, known, when, stored, said):
    answer = answered(keeper_client, mats="6", known=known, when=when)
    assert days_of(mats[0]) == {stored}
    assert days_of(mats[1]) == {("2022-12-31", "not later than")}
    assert said in text_of(answer)


def test_what_was_said_before_stays_in_the_trail_with_the_reason(keeper_client, mats):
    answered(keeper_client, mats="6", when="2021", reason="an invoice")
    for fitting in mats[0].fittings.all():
        old, new = fitting.history.order_by("history_id")
        assert (old.fitted_on, old.fitted_basis) == (date(2022, 12, 31), "not later than")
        assert (new.history_user.username, new.history_change_reason) == ("keeper", "an invoice")
    assert "an invoice" in text_of(keeper_client.get("/mats/6/"))


def test_what_is_due_follows_at_once(keeper_client, mats, today):
    Fitting.objects.update(fitted_on=today - timedelta(days=100))
    assert "6 cables of unknown age" in text_of(keeper_client.get("/"))
    answered(keeper_client, mats=["6", "M-017"], when="2020")
    assert {row.status for row in Assessment.objects.all()} == {"change now"}
    assert "unknown age" not in text_of(keeper_client.get("/"))


def test_cables_known_for_certain_stay_and_those_known_roughly_want_a_tick(keeper_client, mats):
    roughly, surely = mats[0].fittings.filter(position__lte=2)
    Fitting.objects.filter(pk=roughly.pk).update(fitted_on=date(2020, 7, 1), fitted_basis="about")
    Fitting.objects.filter(pk=surely.pk).update(fitted_on=date(2021, 5, 5), fitted_basis="known")
    answered(keeper_client, mats="6", when="2021")
    assert days_of(mats[0]) == {("2020-07-01", "about"), ("2021-05-05", "known"), ("2021-07-01", "about")}
    refused = answered(keeper_client, mats="6", when="2019")
    assert "known roughly already" in text_of(refused)
    answered(keeper_client, mats="6", when="2019", also_about="on")
    assert days_of(mats[0]) == {("2019-07-01", "about"), ("2021-05-05", "known")}


def test_the_page_shows_each_guess_as_a_guess(keeper_client, mats):
    mats[0].fittings.filter(position=1).update(fitted_on=date(2023, 4, 15), fitted_basis="about")
    text = text_of(keeper_client.get(URL))
    assert "Mat 6 2 cables: 31 Dec 2022 or earlier; 1 cable: about Apr 2023" in text
    assert "M-017 3 cables: 31 Dec 2022 or earlier" in text


def test_links_tick_the_mat_they_come_from_and_lead_back(keeper_client, mats):
    asked = f"?mat={mats[1].number}&next=/"
    assert form_in(keeper_client.get(URL + asked))["mats"] == "M-017"
    answer = answered(keeper_client, asked, when="2021")
    assert (answer.request["PATH_INFO"], days_of(mats[1])) == ("/", {("2021-07-01", "about")})


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"when": "2021"}, "Tick the mats"),
        ({"mats": "6", "when": ""}, "Write the day, the month or the year."),
        ({"mats": "6", "when": "long ago"}, "is not a day, month or year"),
        ({"mats": "6", "when": "2199"}, "That is in the future."),
        ({"mats": "none-such", "when": "2021"}, "No cable of “none-such” waits"),
    ],
)
def test_what_cannot_be_is_refused_and_stays_typed(keeper_client, mats, typed, says):
    answer = answered(keeper_client, **typed)
    assert answer.status_code == 422
    assert says in text_of(answer)
    assert form_in(answer)["when"] == typed["when"]
    assert not Fitting.history.exists()


def test_a_day_on_which_another_cable_was_there_is_refused_for_all(keeper_client, mats):
    fit(make_plain_segment(serial="C-OLD"), mats[0], 2, date(2019, 1, 1), date(2021, 6, 1))
    answer = answered(keeper_client, mats=["6", "M-017"], when="2020")
    assert "C-OLD was in mat 6 position 2 from 1 Jan 2019 to 1 Jun 2021. Write a later day" in text_of(answer)
    assert not Fitting.history.exists()
    assert answered(keeper_client, mats="6", when="June 2021").status_code == 200
    assert days_of(mats[0]) == {("2019-01-01", "known"), ("2021-06-15", "about")}


def test_so_is_one_on_which_the_cable_was_elsewhere(keeper_client, mats):
    here = mats[0].fittings.get(position=1)
    fit(here.segment, make_mat("K1", design=mats[0].design), 1, date(2020, 1, 1), date(2020, 9, 1))
    answer = answered(keeper_client, mats="6", when="2020-05-05")
    assert f"{here.segment} was in K1 position 1 from 1 Jan 2020 to 1 Sep 2020." in text_of(answer)


def test_an_old_page_changes_nothing_and_can_be_sent_again(keeper_client, mats):
    opened = form_in(keeper_client.get(URL)) | {"mats": "6", "known": "then", "when": "2021"}
    fitting = mats[0].fittings.get(position=1)
    Fitting.objects.filter(pk=fitting.pk).update(fitted_on=date(2018, 1, 1), version=2)
    late = keeper_client.post(URL, opened)
    assert late.status_code == 422
    assert "Somebody else changed this meanwhile: the cables of mat 6." in text_of(late)
    assert not Fitting.history.exists()
    assert keeper_client.post(URL, form_in(late) | {"known": "then"}).status_code == 302
    assert days_of(mats[0]) == {("2021-07-01", "about")}


def test_sent_twice_it_acts_once(keeper_client, mats):
    sent = form_in(keeper_client.get(URL)) | {"mats": "6", "known": "then", "when": "2021"}
    assert [keeper_client.post(URL, sent).status_code for _ in range(2)] == [302, 302]
    assert Fitting.history.count() == 6


def test_only_the_keeper_tells_it(bench_client, mats):
    assert bench_client.get(URL).status_code == 403
    assert URL not in bench_client.get("/").content.decode()


def test_queries_do_not_grow_with_the_mats(keeper_client, today):
    counts = []
    for number in ("6", "7", "8"):
        mat_of_unknown_age(number, positions=4)
        sent = form_in(keeper_client.get(URL)) | {"known": "then", "when": f"201{number}"}
        sent["mats"] = list(Fitting.objects.values_list("mat__number", flat=True).distinct())
        Fitting.objects.update(fitted_basis="not later than")
        with CaptureQueriesContext(connection) as queries:
            assert keeper_client.post(URL, sent).status_code == 302
        counts.append(len(queries))
        Fitting.objects.update(fitted_on=today - timedelta(days=400), **NOT_LATER_THAN)
    assert counts[1] == counts[2]
