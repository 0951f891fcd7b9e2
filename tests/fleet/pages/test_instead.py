"""A mat that should not go is marked where it is planned, and another one takes its place with two taps."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, make_event, make_fault, make_mat, make_plain_design, make_series, make_usage_event
from page_forms import form_in
from page_words import words_in

from fleet.models import UsageEvent
from fleet.services.mat_days import write_days
from inspections.assessment.services import assess_pool

pytestmark = pytest.mark.django_db


@pytest.fixture
def design():
    return make_plain_design(2)


@pytest.fixture
def sound(design, today):
    def make(number, **values):
        return make_mat(number, design=design, fitted=True, fitted_on=today, **values)

    return make


@pytest.fixture
def worn(design, today):
    return make_mat("M-1", design=design, fitted=True, fitted_on=today - timedelta(days=2000))


@pytest.fixture
def weeks(worn, today):
    """Three weeks of a series, the worn mat planned for each."""
    series = make_series(today + timedelta(days=20), weeks=2)
    events = [make_event(today + timedelta(days=20 + 7 * n), code=f"W-{n}", series=series) for n in range(3)]
    for event in events:
        make_usage_event(worn, event, "planned")
    return events


def three_years_before(day):
    """When a cable was fitted that is due by then, or a day or three before."""
    return day.replace(year=day.year - 3, day=min(day.day, 28))


def plan(mat, event):
    write_days([make_usage_event(mat, event, "planned")])


def words(client, place):
    return words_in(client.get(place).content.decode())


def planned(event):
    return sorted(event.usage_events.filter(state="planned").values_list("mat__number", flat=True))


def take(client, place, **button):
    return client.post(place, form_in(client.get(place)) | button, follow=True)


def buttons(page, name):
    return [line.split('value="')[1].split('"')[0] for line in page.split("<button")[1:] if f'name="{name}"' in line]


def test_the_event_says_which_of_its_planned_mats_should_not_go_and_leads_to_another(keeper_client, weeks, sound):
    make_usage_event(sound("M-2"), weeks[0], "planned")
    text = words(keeper_client, "/events/W-0/")
    assert "2 mats planned. M-1 should not go." in text
    assert "M-1 2 cables due Another mat" in text
    assert "/events/W-0/mats/M-1/instead/" in keeper_client.get("/events/W-0/").content.decode()
    assert "/events/W-0/mats/M-2/instead/" not in keeper_client.get("/events/W-0/").content.decode()


def test_who_does_not_plan_sees_the_mark_without_the_way_out(log_client, weeks):
    text = words(log_client, "/events/W-0/")
    assert "2 cables due" in text and "Another mat" not in text


def test_today_leads_there_for_each_mat(keeper_client, weeks):
    assert 'href="/events/W-0/mats/M-1/instead/?next=/"' in keeper_client.get("/").content.decode()


def test_offered_are_fit_mats_of_the_design_that_are_free_those_of_the_same_depot_first(
    keeper_client, weeks, worn, sound, today
):
    quay, yard = make_depot("Quay"), make_depot("Yard")
    worn.depot = yard
    worn.save()
    sound("M-2", depot=quay)
    sound("M-3", depot=yard)
    plan(sound("M-4"), make_event(weeks[0].starts_on - timedelta(1), days=2))
    make_fault(sound("M-5"), "wet", None, reported_on=today)
    make_mat("M-6", design=make_plain_design(1), fitted=True, fitted_on=today)
    sound("M-7", withdrawn_on=today)
    page = keeper_client.get("/events/W-0/mats/M-1/instead/").content.decode()
    assert buttons(page, "mat") == ["M-3", "M-2"]


def test_all_weeks_are_offered_where_the_mat_is_free_and_fit_in_each(keeper_client, weeks, sound, design, today):
    sound("M-2")
    plan(sound("M-3"), make_event(weeks[2].starts_on))
    # due between the first and the last week
    make_mat("M-4", design=design, fitted=True, fitted_on=three_years_before(weeks[1].starts_on))
    page = keeper_client.get("/events/W-0/mats/M-1/instead/").content.decode()
    assert buttons(page, "mat") == ["M-2", "M-3", "M-4"]
    assert buttons(page, "mat_later") == ["M-2"]


def test_the_second_tap_swaps_this_week_and_leaves_a_trail(keeper_client, weeks, sound):
    sound("M-2")
    answer = take(keeper_client, "/events/W-0/mats/M-1/instead/", mat="M-2")
    assert answer.request["PATH_INFO"] == "/events/W-0/"
    assert "M-2 goes instead of M-1." in words_in(answer.content.decode())
    assert [planned(event) for event in weeks] == [["M-2"], ["M-1"], ["M-1"]]
    assert weeks[0].usage_events.get(mat__number="M-1").state == "called off"
    assert "M-2 goes instead of M-1" in words(keeper_client, "/events/W-0/").split("Corrections")[1]
    weeks[0].refresh_from_db()
    assert weeks[0].changed_alone


def test_or_all_later_weeks_but_those_changed_alone(keeper_client, weeks, sound):
    sound("M-2")
    type(weeks[1]).objects.filter(pk=weeks[1].pk).update(changed_alone=True)
    answer = take(keeper_client, "/events/W-0/mats/M-1/instead/?next=/", mat_later="M-2")
    assert "M-2 goes instead of M-1, in 2 weeks." in words_in(answer.content.decode())
    assert [planned(event) for event in weeks] == [["M-2"], ["M-1"], ["M-2"]]
    weeks[0].refresh_from_db()
    assert not weeks[0].changed_alone


def test_it_keeps_what_the_week_counts_for_and_takes_a_mat_back_that_was_called_off(keeper_client, weeks, sound):
    UsageEvent.objects.update(counts_for=4)
    make_usage_event(sound("M-2"), weeks[0], "called off")
    take(keeper_client, "/events/W-0/mats/M-1/instead/", mat="M-2")
    assert list(weeks[0].usage_events.filter(state="planned").values_list("mat__number", "counts_for")) == [("M-2", 4)]


def test_a_mat_that_somebody_else_planned_meanwhile_is_refused(keeper_client, weeks, sound):
    other = sound("M-2")
    place = "/events/W-0/mats/M-1/instead/"
    sent = form_in(keeper_client.get(place)) | {"mat": "M-2"}
    plan(other, make_event(weeks[0].starts_on))
    answer = keeper_client.post(place, sent)
    assert answer.status_code == 422 and "Choose one of the mats below." in answer.content.decode()
    assert planned(weeks[0]) == ["M-1"]


def test_sent_twice_it_swaps_once(keeper_client, weeks, sound):
    sound("M-2")
    place = "/events/W-0/mats/M-1/instead/"
    sent = form_in(keeper_client.get(place)) | {"mat": "M-2"}
    assert [keeper_client.post(place, sent).headers["Location"] for _ in range(2)] == ["/events/W-0/"] * 2
    assert UsageEvent.objects.filter(mat__number="M-2").count() == 1


def test_without_a_mat_to_take_the_page_says_so(keeper_client, weeks):
    assert "No other mat of its design is free and fit on that day." in words(
        keeper_client, "/events/W-0/mats/M-1/instead/"
    )


def test_queries_grow_neither_with_mats_nor_with_weeks(keeper_client, weeks, worn, sound, today):
    counts = []
    for size in range(2):
        for number in range(10 * size + 1):
            sound(f"S-{size}-{number}")
            event = make_event(today + timedelta(days=200 + 7 * (10 * size + number)), series=weeks[0].series)
            make_usage_event(worn, event, "planned")
        assess_pool(today)
        keeper_client.get("/events/W-0/")
        with CaptureQueriesContext(connection) as captured:
            for place in ("/events/W-0/mats/M-1/instead/", "/events/W-0/"):
                assert keeper_client.get(place).status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1


# --- series


def test_changing_the_weeks_ahead_says_which_of_its_mats_should_not_go_by_the_last_week(keeper_client, weeks, design):
    """One of them is sound until between the first and the last week."""
    last = weeks[2].ends_on
    later = make_mat("M-2", design=design, fitted=True, fitted_on=three_years_before(weeks[1].starts_on))
    make_usage_event(later, weeks[0], "planned")
    text = words(keeper_client, "/events/W-0/rest/")
    assert f"{last.year}, these of its mats should not go: M-1 (2 cables due), M-2 (2 cables due)." in text


def test_repeating_says_so_of_the_first_day_before_and_of_the_last_once_stored(keeper_client, worn, design, today):
    first = make_event(today + timedelta(days=20), code="E-1")
    turns = first.starts_on + timedelta(days=7)
    later = make_mat("M-2", design=design, fitted=True, fitted_on=three_years_before(turns))
    for mat in (worn, later):
        make_usage_event(mat, first, "planned")
    place = "/events/E-1/repeat/"
    assert "On the first day these should not go already: M-1 (2 cables due)." in words(keeper_client, place)
    form = form_in(keeper_client.get(place)) | {"until": str(first.starts_on + timedelta(weeks=2)), "every_weeks": "1"}
    text = words_in(keeper_client.post(place, form, follow=True).content.decode())
    assert "these should not go: M-1 (2 cables due), M-2 (2 cables due). Each week says which." in text


# --- where mats are ticked for a plan


def marked(client, **typed):
    """{mat number: why} on the log page once these fields are typed."""
    values = {"event": "new", "name": "Winter loan", "act": "choose", **typed}
    return client.post("/events/log/", values).context["form"].picker.unfit


def test_a_loan_and_a_series_mark_what_should_not_go_by_their_last_day(keeper_client, design, today):
    """M-1 is sound on the first day and due three weeks later."""
    starts_on, later = today + timedelta(days=20), today + timedelta(days=41)
    make_mat("M-1", design=design, fitted=True, fitted_on=three_years_before(later))
    assert marked(keeper_client, starts_on=str(starts_on)) == {}
    assert marked(keeper_client, starts_on=str(starts_on), ends_on=str(later)) == {"M-1": "2 cables due"}
    assert marked(keeper_client, starts_on=str(starts_on), until=str(later)) == {"M-1": "2 cables due"}
    assert marked(keeper_client, starts_on=str(starts_on), ends_on="rubbish", until="31.31.2026") == {}
    loan = make_event(starts_on, 30, code="L-1")
    assert marked(keeper_client, event=loan.code) == {"M-1": "2 cables due"}
