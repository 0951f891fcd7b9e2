"""An event that nobody held or planned is deleted with what was said of its mats; the trail keeps what it said."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from factories import make_note, make_plain_mat
from invariants import broken
from page_forms import form_in

from fleet.models import Event, EventSeries, MatDay, Note, Submission, UsageEvent
from fleet.models.usage import REST_OF_MONTH
from fleet.services.deleting import delete_event
from fleet.services.events import add_event, correct_event
from fleet.services.series import repeat_event
from fleet.services.settling import UsageValues
from fleet.services.usage import answer_event, log_event
from fleet.services.usual_use import say_usual_use
from inspections.assessment.services import assess_pool
from inspections.models import Assessment

pytestmark = pytest.mark.django_db
PLANNED, WENT = UsageValues("planned"), UsageValues("went")


@pytest.fixture
def acts(keeper, today):
    return {"by": keeper, "on": today}


@pytest.fixture
def mat(today):
    mat = make_plain_mat(number="M-1", fitted=True, fitted_on=today - timedelta(300))
    assess_pool(today)
    return mat


def event_with(usage, acts, days=0, name="Hill run"):
    event = add_event(by=acts["by"], name=name, starts_on=acts["on"] + timedelta(days))
    log_event(event, usage, **acts)
    return event


def counts(mat):
    return set(Assessment.objects.filter(mat=mat).values_list("event_count", "before_event"))


def test_what_counted_for_its_mats_counts_no_more_and_their_days_are_free(mat, acts, today):
    before = counts(mat)
    event = event_with({mat: WENT, make_plain_mat(): WENT}, acts)
    make_note(event)
    assert counts(mat) != before
    said = delete_event(event, reason="entered for a drill", **acts).follows
    assert said[0] == "It no longer counts for the 2 mats that went." and said[1].startswith("Note N-")
    assert counts(mat) == before and not broken(today)
    assert not any(model.objects.exists() for model in (Event, UsageEvent, MatDay, Note))
    for model in (Event, UsageEvent, Note):
        assert {row.history_change_reason for row in model.history.filter(history_type="-")} == {"entered for a drill"}


def test_planned_mats_are_free(mat, acts, today):
    event = event_with({mat: PLANNED}, acts, days=9)
    assert delete_event(event, reason="another club", **acts).follows == ("1 planned mat is free on its days.",)
    assert event_with({mat: PLANNED}, acts, days=9, name="Canal run") and not broken(today)


def test_of_a_series_one_goes_alone_and_the_last_takes_the_series_along(mat, acts, today):
    event = event_with({mat: PLANNED}, acts, days=2)
    repeat_event(event, every_weeks=1, until=event.starts_on + timedelta(14), **acts)
    first, second, third = Event.objects.order_by("starts_on")
    for one in (second, first):
        delete_event(one, reason="never so", **acts)
        assert EventSeries.objects.count() == 1 and not broken(today)
    said = delete_event(third, reason="never so", **acts).follows
    assert "Its series Hill run goes too: it has no other event." in said
    assert not EventSeries.objects.exists() and not broken(today)


def test_one_that_stands_for_the_use_of_a_month_stays(mat, acts, today):
    say_usual_use(mat, 12, **acts)
    rest = add_event(by=acts["by"], name=REST_OF_MONTH, starts_on=today)
    for event in (Event.objects.exclude(pk=rest.pk).first(), rest):
        with pytest.raises(ValidationError, match="It stands for how often mats went in a month"):
            delete_event(event, reason="never so", **acts)


def test_what_somebody_answered_meanwhile_is_said_before_it_is_deleted(mat, acts, keeper_client, today):
    event = event_with({mat: PLANNED}, acts)
    place = f"{event.get_absolute_url()}delete/"
    form = form_in(keeper_client.get(place)) | {"reason": "a drill"}
    Event.objects.filter(pk=event.pk).update(ends_on=today - timedelta(1), starts_on=today - timedelta(1))
    answer_event(event, "went", **acts)
    answer = keeper_client.post(place, form)
    assert answer.status_code == 422 and b"now something else follows" in answer.content
    assert b"It no longer counts for the 1 mat that went." in answer.content
    assert keeper_client.post(place, form_in(answer)).url == "/events/"
    assert keeper_client.post(place, form).url == "/events/" and keeper_client.get(place).status_code == 404


def test_a_form_that_led_to_it_leads_to_the_list_when_it_comes_again(keeper_client, acts, today):
    form = form_in(keeper_client.get("/events/add/")) | {"name": "Drill", "starts_on": f"{today}"}
    made = keeper_client.post("/events/add/", form).url
    delete_event(Event.objects.get(), reason="a drill", **acts)
    assert Submission.objects.get().answer_url == "/events/" != made
    assert keeper_client.post("/events/add/", form).url == "/events/" and not Event.objects.exists()


def test_its_code_is_found_by_the_search_and_free_again(keeper_client, mat, acts):
    event = event_with({mat: WENT}, acts)
    delete_event(event, reason="a drill", **acts)
    page = keeper_client.get("/find/", {"q": event.code.lower()}).content.decode()
    assert f"Event {event}: deleted: a drill" in page
    again = add_event(by=acts["by"], name="Hill run", starts_on=event.starts_on, code=event.code)
    assert keeper_client.get("/find/", {"q": event.code}).url == again.get_absolute_url()


def test_a_correction_after_it_was_deleted_is_refused(mat, acts):
    event = event_with({mat: WENT}, acts)
    delete_event(Event.objects.get(), reason="a drill", **acts)
    with pytest.raises(ValidationError, match="has just deleted this"):
        correct_event(event, place="quay", **acts)
    with pytest.raises(ValidationError, match="has just deleted this"):
        log_event(event, {mat: WENT}, **acts)


def test_queries_do_not_grow_with_its_mats(acts, django_assert_max_num_queries, today):
    queries = []
    for number in (2, 12):
        event = event_with(dict.fromkeys([make_plain_mat() for _ in range(number)], WENT), acts, name=f"Run {number}")
        with django_assert_max_num_queries(99) as counted:
            delete_event(event, reason="a drill", **acts)
        queries.append(len(counted))
    assert queries[0] == queries[1]
