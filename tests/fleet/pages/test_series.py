"""Weekly events on their pages: logged and repeated at once, repeated later, the rest changed, ended early."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.formats import date_format
from factories import make_event, make_mat, make_usage_event
from page_forms import seen_on

from fleet.models import Event, EventSeries, Mat
from fleet.selectors.seen import planned_mark
from fleet.services.series import repeat_event
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event

pytestmark = pytest.mark.django_db


def page_of(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def run(today):
    """Planned in three days for two mats."""
    event = make_event(today + timedelta(days=3), name="Canal run", code="E-1")
    for number in ("M-001", "M-002"):
        make_usage_event(make_mat(number, fitted=True), event, state="planned")
    return event


@pytest.fixture
def series(run, keeper, today):
    return repeat_event(run, every_weeks=1, until=run.starts_on + timedelta(weeks=4), by=keeper, on=today)


def weeks(series):
    return list(series.events.order_by("starts_on"))


def sent(**changed):
    return {"token": str(uuid.uuid4()), "every_weeks": "1"} | changed


def logged(today, **changed):
    event = {"event": "new", "name": "Fen run", "starts_on": today + timedelta(days=2), "mats": ["M-001"]}
    return sent(act="log", counts_for="1", basis="counted") | event | changed


def test_an_event_is_logged_and_repeated_on_one_form(keeper_client, today):
    make_mat("M-001", fitted=True)
    until = today + timedelta(days=2, weeks=3)
    answer = keeper_client.post("/events/log/", logged(today, until=until, every_weeks=""))
    assert answer.status_code == 302
    assert [event.name for event in weeks(EventSeries.objects.get())] == ["Fen run"] * 4
    said = page_of(keeper_client.get(answer.url))
    assert f"Planned: 1 mat, 4 times until {date_format(until, 'j M Y')}." in said
    assert "counted" not in said


def test_a_rule_refused_on_the_log_keeps_what_was_typed_and_logs_nothing(keeper_client, today):
    make_mat("M-001")
    answer = keeper_client.post("/events/log/", logged(today, until=today + timedelta(days=4)))
    assert answer.status_code == 422
    assert "The next one would be on" in page_of(answer)
    assert f'value="{today + timedelta(days=4)}"' in page_of(answer)
    assert Event.objects.count() == 0


def test_an_event_is_repeated_from_its_page_once_however_often_the_form_is_sent(keeper_client, run):
    assert "/events/E-1/repeat/" in page_of(keeper_client.get("/events/E-1/"))
    form = sent(until=run.starts_on + timedelta(weeks=2)) | seen_on(keeper_client, "/events/E-1/repeat/")
    first, again = (keeper_client.post("/events/E-1/repeat/", form) for _ in range(2))
    assert first.url == again.url == EventSeries.objects.get().get_absolute_url()
    assert Event.objects.count() == 3
    assert "every week until" in page_of(keeper_client.get(first.url))


def test_a_taken_week_is_named_and_left_out_when_ticked(keeper_client, run, today):
    other = make_event(run.starts_on + timedelta(weeks=1), name="Fen Half", code="E-77")
    log_event(other, {Mat.objects.get(number="M-001"): UsageValues("planned")}, by=None, on=today)
    form = sent(until=run.starts_on + timedelta(weeks=3)) | seen_on(keeper_client, "/events/E-1/repeat/")
    answer = keeper_client.post("/events/E-1/repeat/", form)
    assert answer.status_code == 422
    day = run.starts_on + timedelta(weeks=1)
    assert f"Already taken: M-001 on {day.day} {day:%b %Y}: E-77 Fen Half." in page_of(answer)
    word = answer.context["form"].refused.fingerprint
    assert f'value="{word}"' in page_of(answer)
    assert keeper_client.post("/events/E-1/repeat/", form | {"confirmed": word}).status_code == 302
    assert [event.starts_on for event in weeks(EventSeries.objects.get())] == [
        run.starts_on + timedelta(weeks=number) for number in (0, 2, 3)
    ]


def rest_form(event, **changed):
    values = {"name": event.name, "place": "", "weekday": event.starts_on.weekday(), "length_days": 1}
    return values | {"mats": "M-001, M-002", "row": event.pk, "version": planned_mark(event)} | changed


def test_the_rest_follows_from_the_page_of_a_week(keeper_client, series):
    event = weeks(series)[2]
    assert f"/events/{event.code}/rest/" in page_of(keeper_client.get(event.get_absolute_url()))
    answer = keeper_client.post(f"/events/{event.code}/rest/", rest_form(event, name="Lantern run", mats="M-002"))
    assert (answer.status_code, answer.url) == (302, series.get_absolute_url())
    assert [each.name for each in weeks(series)] == ["Canal run"] * 2 + ["Lantern run"] * 3


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"mats": "M-001 M-999"}, "Not known: M-999."),
        ({"length_days": "8"}, "It would still be running when the next one begins. Make it shorter."),
        ({"version": "99"}, "Somebody else changed this meanwhile."),
        ({"name": ""}, "Fill in this field."),
    ],
)
def test_what_cannot_be_is_refused_with_what_was_typed(keeper_client, series, changed, says):
    event = weeks(series)[1]
    answer = keeper_client.post(f"/events/{event.code}/rest/", rest_form(event, place="Lock 9", **changed))
    assert answer.status_code == 422
    assert says in page_of(answer) and 'value="Lock 9"' in page_of(answer)
    assert {each.place for each in weeks(series)} == {""}


def test_mats_of_the_rest_are_ticked_or_typed(keeper_client, series):
    make_mat("M-003")
    event = weeks(series)[1]
    address = f"/events/{event.code}/rest/"
    page = page_of(keeper_client.get(address))
    assert [f'value="M-00{number}" checked' in page for number in (1, 2, 3)] == [True, True, False]
    keeper_client.post(address, rest_form(event, mats=["M-001"], paste="3"))
    planned = weeks(series)[1].usage_events.filter(state="planned").values_list("mat__number", flat=True)
    assert sorted(planned) == ["M-001", "M-003"]


def test_a_mat_withdrawn_by_then_is_refused_by_name(keeper_client, series, today):
    make_mat("M-009", withdrawn_on=today)
    event = weeks(series)[1]
    answer = keeper_client.post(f"/events/{event.code}/rest/", rest_form(event, mats="M-009"))
    assert "Withdrawn: M-009." in page_of(answer)


def test_the_rest_of_an_event_without_series_is_said_not_failed(keeper_client, run):
    assert "belongs to no series" in page_of(keeper_client.get("/events/E-1/rest/"))
    answer = keeper_client.post("/events/E-1/rest/", rest_form(run))
    assert answer.status_code == 422


def test_a_series_is_ended_early_from_its_page(keeper_client, series, run):
    assert f"{series.get_absolute_url()}end/" in page_of(keeper_client.get(series.get_absolute_url()))
    form = {"last_day": run.starts_on + timedelta(weeks=1), "version": series.version}
    answer = keeper_client.post(f"{series.get_absolute_url()}end/", form, follow=True)
    assert "Canal run ends: 3 events called off." in page_of(answer)


def test_the_page_of_a_week_says_its_series_and_that_it_was_changed_alone(keeper_client, series):
    event = weeks(series)[1]
    address = f"/events/{event.code}/answer/"
    keeper_client.post(address, {"state": "called off"} | seen_on(keeper_client, address))
    page = page_of(keeper_client.get(event.get_absolute_url()))
    assert "every week until" in page and "this one changed alone" in page


def test_queries_of_a_series_do_not_grow_with_its_weeks(visitor_client, run, keeper, today):
    series = repeat_event(run, every_weeks=1, until=run.starts_on + timedelta(weeks=1), by=keeper, on=today)
    other = make_event(run.starts_on + timedelta(days=1), name="Fen run", code="E-2")
    long = repeat_event(other, every_weeks=1, until=other.starts_on + timedelta(weeks=60), by=keeper, on=today)
    counts = []
    for each in (series, long):
        with CaptureQueriesContext(connection) as captured:
            assert visitor_client.get(each.get_absolute_url()).status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1]
