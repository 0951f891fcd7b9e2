"""The page on which something is deleted says what follows; two inputs and a reason undo a wrong serial."""

import html
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import fit, make_note, make_plain_design, make_plain_mat, make_plain_segment, make_reading
from page_forms import form_in

from fleet.figures import short_day
from fleet.models import Fitting
from fleet.services.fittings import TakenOut, fit_segment
from fleet.signals import correction_begins
from inspections.assessment.services import assess_pool
from inspections.deleting.services import delete_fitting

pytestmark = pytest.mark.django_db


def words(answer):
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", "", answer.content.decode())))


@pytest.fixture
def wrong(keeper, today):
    """C-WRONG typed into M-1 position 1 today, which threw C-OLD away."""
    mat = make_plain_mat(number="M-1")
    given = {"by": keeper, "on": today}
    old = fit_segment(make_plain_segment(serial="C-OLD"), mat, 1, fitted_on=today - timedelta(days=90), **given).fitting
    assess_pool(today)
    out = TakenOut(old, "worn", "thrown away")
    return fit_segment(make_plain_segment(serial="C-WRONG"), mat, 1, fitted_on=today, out=out, **given).fitting


def place(fitting):
    return f"/cables/{fitting.segment}/fittings/{fitting.pk}/delete/"


def press(client, fitting, **typed):
    form = form_in(client.get(place(fitting)))
    return client.post(place(fitting), form | {"reason": "it was C-00042"} | typed, follow=True)


def test_open_and_press_put_back_what_a_wrong_serial_displaced(bench_client, wrong):
    mat_page = bench_client.get("/mats/M-1/")
    assert place(wrong) in mat_page.content.decode()
    page = words(bench_client.get(place(wrong)))
    assert "C-OLD is in M-1 position 1 again." in page and "C-OLD is not thrown away any more." in page
    answer = press(bench_client, wrong)
    assert answer.redirect_chain[-1][0] == "/mats/M-1/"
    assert "C-OLD is in M-1 position 1 again." in words(answer)
    assert f"C-WRONG in M-1 position 1 from {short_day(wrong.fitted_on)}: deleted" in words(answer)
    assert Fitting.objects.get(removed_on=None).segment.serial == "C-OLD"


def test_pressed_twice_it_is_deleted_once(bench_client, wrong):
    form = form_in(bench_client.get(place(wrong))) | {"reason": "never so"}
    assert [bench_client.post(place(wrong), form).status_code for _ in range(2)] == [302, 302]
    assert Fitting.history.filter(history_type="-").count() == 1
    assert bench_client.get(place(wrong)).status_code == 404


def test_what_was_typed_stays_where_something_else_follows_by_now(bench_client, wrong, keeper, today):
    form = form_in(bench_client.get(place(wrong))) | {"reason": "it was C-00042"}
    make_reading(wrong.segment, 0.4, today, taken="at fitting")
    answer = bench_client.post(place(wrong), form)
    assert answer.status_code == 422 and "now something else follows" in words(answer)
    again = form_in(answer)
    assert again["reason"] == "it was C-00042" and "This reading never was either" in words(answer)
    assert bench_client.post(place(wrong), again | {"readings": "on"}).status_code == 302
    assert wrong.segment.measurements.get().voided_on == today


def test_one_that_something_stands_on_offers_no_button_and_says_what_to_do_first(bench_client, wrong, keeper, today):
    out = TakenOut(wrong, "worn")
    fit_segment(make_plain_segment(serial="C-NEW"), wrong.mat, 1, by=keeper, on=today, fitted_on=today, out=out)
    page = bench_client.get(place(wrong))
    assert f"C-NEW took its place on {short_day(today)}. Delete that fitting first." in words(page)
    assert form_in(page) == {}
    sent = {"reason": "never so", "version": Fitting.objects.get(pk=wrong.pk).version}
    answer = bench_client.post(place(wrong), sent)
    assert answer.status_code == 422 and Fitting.objects.filter(pk=wrong.pk).exists()


def test_pages_ask_as_much_of_the_database_whatever_the_rows(keeper_client, today):
    counted = []
    for positions, cables in ((2, 2), (8, 8)):
        mat = make_plain_mat(make_plain_design(positions), number=f"M-{positions}")
        for position in range(1, cables + 1):
            fitting = fit(make_plain_segment(), mat, position, today - timedelta(days=9))
            for day in range(positions):
                make_reading(fitting.segment, 0.5, today - timedelta(days=day))
                make_note(mat)
        place = f"/cables/{fitting.segment}/fittings/{fitting.pk}/delete/"
        counted.append([queries_of(keeper_client, at) for at in (place, f"/mats/{mat}/delete/")])
    assert counted[0] == counted[1]


def queries_of(client, place):
    with CaptureQueriesContext(connection) as queries:
        assert client.get(place).status_code == 200
    return len(queries)


def test_an_old_fitting_asks_about_the_rest_of_the_pool_and_one_told_lately_does_not(keeper, today):
    asked = []

    def ask(segment_ids, **kwargs):
        asked.append(segment_ids)
        return lambda confirmed: None

    correction_begins.connect(ask, dispatch_uid="test")
    for days_ago in (40, 3):
        fitting = fit(make_plain_segment(), make_plain_mat(), 1, today - timedelta(90))
        Fitting.objects.filter(pk=fitting.pk).update(recorded_at=timezone.now() - timedelta(days_ago))
        delete_fitting(fitting, by=keeper, on=today, reason="never so", confirmed="")
        assert len(asked) == 1
    correction_begins.disconnect(dispatch_uid="test")
