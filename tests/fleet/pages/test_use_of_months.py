"""How often a mat really went, said month by month on its page, and how often it usually goes."""

from calendar import monthrange
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, log_usage_event, make_event, make_mat, make_segment, make_usage_event
from page_forms import form_in
from page_words import words_in

from fleet.models import Event, MatDay, UsageEvent
from fleet.months import months_after
from inspections.models import Assessment

pytestmark = pytest.mark.django_db
PAGE = "/mats/M-1/months/"


@pytest.fixture
def mat(today):
    mat = make_mat("M-1")
    fit(make_segment(0.6), mat, 1, today - timedelta(days=800))
    return mat


@pytest.fixture
def first(today):
    """Of the month before this one."""
    return months_after(today, -1)


@pytest.fixture
def usual(mat, first):
    return make_usage_event(mat, make_event(first.replace(day=15), name="Usual use"), basis="usual", counts_for=2)


@pytest.fixture
def run(mat, first):
    return make_usage_event(mat, make_event(first.replace(day=4), name="Hill run"))


def field_of(first):
    return f"month_{first:%Y_%m}"


def say(client, first, number, page=PAGE):
    return client.post(page, form_in(client.get(page)) | {field_of(first): number})


def count():
    return Assessment.objects.get().event_count


def reported():
    return list(UsageEvent.objects.filter(basis="reported").values_list("state", "counts_for"))


def test_what_the_logged_events_lack_is_stored_as_reported(keeper_client, mat, usual, run, first):
    assert say(keeper_client, first, "5").status_code == 302
    assert (count(), reported()) == (5, [("went", 4)])
    event = Event.objects.get(name="Other events of the month, as reported")
    assert (event.starts_on.year, event.starts_on.month) == (first.year, first.month)
    assert form_in(keeper_client.get(PAGE))[field_of(first)] == "5"


def test_it_is_corrected_taken_back_and_leaves_a_trail(keeper_client, mat, usual, run, first):
    for number, counts, rows in (
        ("5", 5, [("went", 4)]),
        ("3", 3, [("went", 2)]),
        ("1", 1, [("called off", 2)]),
        ("2", 2, [("went", 1)]),
        ("", 1, [("called off", 1)]),
    ):
        say(keeper_client, first, number)
        assert (count(), reported()) == (counts, rows), number
    reasons = [state.history_change_reason for state in UsageEvent.objects.get(basis="reported").history.all()]
    assert reasons == [
        "the number was taken back", "2 in all", "1 in all", "3 in all", None,
    ]  # fmt: skip


def test_that_it_stayed_at_home_is_said_too(keeper_client, mat, usual, first):
    say(keeper_client, first, "")
    say(keeper_client, first, "0")
    usual.refresh_from_db()
    assert (count(), usual.state, reported()) == (0, "called off", [])
    assert form_in(keeper_client.get(PAGE))[field_of(first)] == "0"
    say(keeper_client, first, "")
    usual.refresh_from_db()
    assert (usual.state, count()) == ("went", 2)
    say(keeper_client, first, "4")
    assert (count(), reported()) == (4, [("went", 4)])


def test_fewer_than_are_logged_are_refused_and_the_logged_ones_named(keeper_client, mat, run, first):
    make_usage_event(mat, make_event(first.replace(day=9), name="Lent"), basis="reported", counts_for=3)
    answer = say(keeper_client, first, "2")
    said = words_in(answer.content.decode())
    month = f"{first:%b}"
    assert answer.status_code == 422
    assert f"4 are logged already: Hill run on 4 {month}, Lent on 9 {month}." in said
    assert (UsageEvent.objects.count(), form_in(answer)[field_of(first)]) == (2, "2")


@pytest.mark.parametrize("number", ["-1", "many", "1.5", "9" * 30])
def test_what_is_no_number_is_refused_and_stays(keeper_client, mat, first, number):
    answer = say(keeper_client, first, number)
    assert (answer.status_code, form_in(answer)[field_of(first)]) == (422, number)
    assert not UsageEvent.objects.exists()


def test_more_than_a_month_has_days_is_asked_about(keeper_client, mat, first):
    asked = say(keeper_client, first, "40")
    assert (asked.status_code, UsageEvent.objects.count()) == (422, 0)
    meant = {"confirmed": asked.context["form"].ways[0][0]}
    assert keeper_client.post(PAGE, form_in(asked) | meant).status_code == 302
    assert reported() == [("went", 40)]


def test_sent_twice_it_acts_once(keeper_client, mat, run, first):
    sent = form_in(keeper_client.get(PAGE)) | {field_of(first): "5"}
    answers = [keeper_client.post(PAGE, sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert (count(), reported()) == (5, [("went", 4)])


def test_from_a_page_that_showed_fewer_events_nothing_is_stored_until_it_is_sent_again(keeper_client, mat, run, first):
    opened = form_in(keeper_client.get(PAGE))
    make_usage_event(mat, make_event(first.replace(day=20), name="Bank run"))
    late = keeper_client.post(PAGE, opened | {field_of(first): "5"})
    assert late.status_code == 422
    assert "Somebody else changed the events of M-1 meanwhile" in words_in(late.content.decode())
    assert reported() == []
    assert keeper_client.post(PAGE, form_in(late)).status_code == 302
    assert reported() == [("went", 3)]


def test_it_stands_on_a_day_on_which_the_mat_was_nowhere_else(keeper_client, mat, first):
    for day in range(1, monthrange(first.year, first.month)[1] + 1):
        if day != 21:
            row = make_usage_event(mat, make_event(first.replace(day=day)))
            MatDay.objects.create(mat=mat, day=first.replace(day=day), usage_event=row, planned=False)
    logged = UsageEvent.objects.count()
    say(keeper_client, first, str(logged + 1))
    assert Event.objects.get(name="Other events of the month, as reported").starts_on.day == 21
    assert not UsageEvent.objects.filter(shares_a_day=True).exists()


def test_of_a_mat_that_was_away_all_the_month_it_asks_before_it_adds_to_that(keeper_client, mat, first, keeper, today):
    loan = make_event(first, monthrange(first.year, first.month)[1], name="Lent")
    log_usage_event(mat, loan, by=keeper, on=today, state="went", counts_for=4, basis="reported")
    asked = say(keeper_client, first, "6")
    assert (asked.status_code, UsageEvent.objects.count(), form_in(asked)[field_of(first)]) == (422, 1, "6")
    assert "Some mats have another event on the same day." in words_in(asked.content.decode())
    meant = {"confirmed": asked.context["form"].ways[0][0]}
    assert keeper_client.post(PAGE, form_in(asked) | meant).status_code == 302
    assert count() == 6


def test_mats_share_the_event_of_a_month(keeper_client, mat, first):
    make_mat("M-2")
    say(keeper_client, first, "2")
    say(keeper_client, first, "3", "/mats/M-2/months/")
    assert (Event.objects.count(), UsageEvent.objects.count()) == (1, 2)


def test_thirteen_months_are_shown_and_earlier_ones_are_a_link_away(keeper_client, mat, today):
    this_month = today.replace(day=1)
    fields = [name for name in form_in(keeper_client.get(PAGE)) if name.startswith("month_")]
    assert fields == [field_of(months_after(this_month, -number)) for number in range(13)]
    earlier = months_after(this_month, -13)
    assert f'href="?last={earlier:%Y-%m}"' in keeper_client.get(PAGE).content.decode()
    page = f"{PAGE}?last={earlier:%Y-%m}"
    assert field_of(earlier) in form_in(keeper_client.get(page))
    say(keeper_client, earlier, "2", page)
    assert reported() == [("went", 2)]


@pytest.mark.parametrize("last", ["0000-01", "2026-13", "x", "9999-12", "0001-01", "２０２６-01", "1950-01"])
def test_an_address_that_names_no_month_shows_the_nearest(keeper_client, mat, last):
    assert keeper_client.get(PAGE, {"last": last}).status_code == 200


def test_before_the_first_month_there_is_no_earlier_one_to_go_to(keeper_client, mat):
    page = keeper_client.get(PAGE, {"last": "1950-01"}).content.decode()
    assert "Later months</a>" in page
    assert "Earlier months" not in page


def test_only_the_keeper_says_so(bench_client, mat, keeper):
    for page in (PAGE, "/mats/M-1/usual-use/"):
        assert (bench_client.get(page).status_code, bench_client.post(page).status_code) == (403, 403)


def test_queries_do_not_grow_with_events(keeper_client, mat, first):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get(PAGE).status_code == 200
        return len(asked)

    queries()
    few = queries()
    for day in range(1, 20):
        make_usage_event(mat, make_event(first.replace(day=day)))
    assert queries() == few


# --- usual use


def test_usual_use_of_one_mat_is_said_on_its_page(keeper_client, mat):
    page = "/mats/M-1/usual-use/"
    assert form_in(keeper_client.get(page))["times_a_year"] == ""
    sent = form_in(keeper_client.get(page)) | {"times_a_year": "24"}
    assert [keeper_client.post(page, sent).status_code for _ in range(2)] == [302, 302]
    assert (count(), UsageEvent.objects.usual().count()) == (24, 12)
    assert form_in(keeper_client.get(page))["times_a_year"] == "24"


@pytest.mark.parametrize("times", ["", "-1", "often", "367"])
def test_a_wrong_number_of_times_is_refused(keeper_client, mat, times):
    page = "/mats/M-1/usual-use/"
    answer = keeper_client.post(page, form_in(keeper_client.get(page)) | {"times_a_year": times})
    assert (answer.status_code, UsageEvent.objects.count()) == (422, 0)


# --- what gave way is shown


def test_the_mats_page_says_what_gave_way_and_that_it_may_count_too_much(visitor_client, mat, usual, run):
    said = words_in(visitor_client.get("/mats/M-1/").content.decode())
    assert "2 events of usual use do not count: others of that month are logged or reported." in said
    assert "usual use, does not count" in said
    assert "less than twelve times a year" in said and "which is the safe side" in said


def test_a_mat_with_usual_use_in_each_month_may_not_count_too_much(visitor_client, mat, today):
    for number in range(12):
        make_usage_event(mat, make_event(months_after(today, -number)), basis="usual")
    assert "safe side" not in words_in(visitor_client.get("/mats/M-1/").content.decode())


def test_the_cables_page_says_so_too(visitor_client, mat, usual, run):
    page = visitor_client.get(mat.fittings.get().segment.get_absolute_url())
    assert "2 events of usual use do not count" in words_in(page.content.decode())


def test_the_events_page_says_that_it_stands_for_a_month(keeper_client, usual, run, first):
    other = make_usage_event(make_mat("M-2"), usual.event, basis="usual")
    page = keeper_client.get(usual.event.get_absolute_url())
    said = words_in(page.content.decode())
    assert f"Usual use of {first:%B %Y}, as somebody estimated it." in said
    rows = [row.record for row in page.context["table"].rows]
    assert {row.mat.number: row.gives_way for row in rows} == {"M-1": True, other.mat.number: False}
    assert "Add mats" not in said and "Repeat it" not in said


def test_the_list_of_events_marks_it(visitor_client, usual, run):
    rows = visitor_client.get("/events/").context["table"].rows
    assert [row.get_cell("state") for row in rows] == ["usual use", "went"]


def test_usual_use_is_offered_as_a_source_only_where_it_is_one(keeper_client, usual, run):
    for row, offered in ((usual, True), (run, False)):
        page = keeper_client.get(f"/events/{row.event.code}/mats/M-1/").content.decode()
        assert ('value="usual"' in page) is offered
    assert 'value="usual"' not in keeper_client.get("/events/log/").content.decode()
