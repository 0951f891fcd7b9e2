"""Start here through HTTP: each way of telling, what is kept of it, what is refused."""

import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_event, make_mat
from page_forms import form_in
from page_words import words_in
from start_pages import tell

from fleet.models import CableSegment, Event, Fitting, Mat, MatDesign, UsageEvent
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event
from inspections.models import Assessment, PolicyValue, WorkOrder

pytestmark = pytest.mark.django_db
URL = "/start/"


def answers(**changed):
    given = {
        "token": str(uuid.uuid4()),
        "width_m": "2",
        "cables": "4",
        "lengths_m": "0,4 1,6",
        "mats": "M-001 to M-008",
        "since": "changed",
        "when": "2023",
        "times_a_year": "40",
        "band": "865",
    }
    return given | changed


def text_of(response):
    return words_in(response.content.decode())


def test_eight_mats_are_on_record_with_their_cables_after_one_form(keeper_client):
    response = tell(keeper_client, answers())
    assert (response.status_code, response.url) == (302, "/start/answer/")
    assert list(Mat.objects.values_list("number", flat=True)) == [f"M-00{n}" for n in range(1, 9)]
    design = MatDesign.objects.get()
    assert (design.code, design.width_m) == ("2 m, 4 cables", 2.0)
    assert list(design.positions.values_list("length_m", flat=True)) == [0.4, 0.8, 1.2, 1.6]
    serials = list(CableSegment.objects.values_list("serial", flat=True))
    assert (len(serials), serials[0], serials[-1]) == (32, "C-00001", "C-00032")
    assert Assessment.objects.count() == 32


@pytest.mark.parametrize(
    ("since", "when", "fitted_on", "basis"),
    [
        ("changed", "2023-03-12", "2023-03-12", "known"),
        ("changed", "12.3.2023", "2023-03-12", "known"),
        ("changed", "12 March 2023", "2023-03-12", "known"),
        ("changed", "March 2023", "2023-03-15", "about"),
        ("changed", "2023-03", "2023-03-15", "about"),
        ("changed", "03/2023", "2023-03-15", "about"),
        ("changed", "2023", "2023-07-01", "about"),
        ("new", "2022", "2022-07-01", "about"),
        ("new", "5 May 2022", "2022-05-05", "known"),
        ("second hand", "2022", "2022-12-31", "not later than"),
        ("second hand", "Feb 2024", "2024-02-29", "not later than"),
    ],
)
def test_each_way_of_telling_when_is_kept_as_what_it_is(keeper_client, since, when, fitted_on, basis):
    assert tell(keeper_client, answers(since=since, when=when)).status_code == 302
    rows = {(str(day), kept) for day, kept in Fitting.objects.values_list("fitted_on", "fitted_basis")}
    assert rows == {(fitted_on, basis)}


def test_not_known_is_not_later_than_today_whatever_stands_below(keeper_client, today):
    tell(keeper_client, answers(since="not known", when="??"))
    assert set(Fitting.objects.values_list("fitted_on", "fitted_basis")) == {(today, "not later than")}
    assert set(CableSegment.objects.values_list("events_before", flat=True)) == {None}
    assert {row.status for row in Assessment.objects.all()} == {"unknown"}


@pytest.mark.parametrize(
    ("since", "acquired"), [("new", "2022-05-05"), ("second hand", "2022-05-05"), ("changed", "None")]
)
def test_an_exact_day_of_buying_is_kept_with_the_mats(keeper_client, since, acquired):
    tell(keeper_client, answers(since=since, when="2022-05-05"))
    assert {str(day) for day in Mat.objects.values_list("acquired_on", flat=True)} == {acquired}


def test_the_usual_rate_is_what_was_told_and_what_lies_before_the_year_counts_too(keeper_client, today):
    fitted_on = today - timedelta(days=2 * 365)
    tell(keeper_client, answers(when=f"{fitted_on}", times_a_year="40"))
    mat = Mat.objects.get(number="M-003")
    given = UsageEvent.objects.counted(today).filter(mat=mat)
    assert {row.basis for row in given} == {"usual"}
    assert sum(row.counts_for for row in given if row.event.starts_on > today - timedelta(days=365)) == 40
    assert set(CableSegment.objects.values_list("events_before", flat=True)) == {40}
    row = Assessment.objects.filter(mat=mat).first()
    assert (row.event_count, row.events_basis) == (80, "usual rate")
    # 70 more of 150 at 40 a year
    assert row.events_due_on == today + timedelta(days=-(-365 * 70 // 40))


@pytest.mark.parametrize("times", ["0", "1", "7", "12", "13", "366"])
def test_any_number_of_times_a_year_is_told_whole(keeper_client, times):
    assert tell(keeper_client, answers(times_a_year=times)).status_code == 302
    of_mat = UsageEvent.objects.filter(mat__number="M-001").values_list("counts_for", flat=True)
    assert sum(of_mat) == int(times)


def test_no_answer_to_how_often_tells_nothing(keeper_client):
    tell(keeper_client, answers(times_a_year=""))
    assert not Event.objects.exists()
    assert set(CableSegment.objects.values_list("events_before", flat=True)) == {None}


@pytest.mark.parametrize(("band", "reference"), [("865", [866.5]), ("902", [915.0]), ("915", [918.0]), ("other", [])])
def test_the_band_sets_the_reference_frequency(keeper_client, band, reference):
    tell(keeper_client, answers(band=band))
    assert list(PolicyValue.objects.filter(setting="reference_mhz").values_list("value", flat=True)) == reference


def test_without_a_bench_nothing_asks_to_be_measured(keeper_client):
    tell(keeper_client, answers())
    assert PolicyValue.objects.get(setting="has_bench").value == 0
    assert not Assessment.objects.exclude(measure_reason="").exists()


def test_with_a_bench_the_default_stands(keeper_client):
    tell(keeper_client, answers(has_bench="on"))
    assert not PolicyValue.objects.filter(setting="has_bench").exists()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lengths_m": "0.4 1 1.6"}, "3 lengths for 4 cables"),
        ({"cables": "0"}, "Write 1 or a number above it."),
        ({"times_a_year": "often"}, "Write a whole number, such as 2."),
        ({"times_a_year": "400"}, "Write 366 or a number below it."),
        ({"when": "12 Mach 2023"}, "is not a day, month or year"),
        ({"when": "31 February 2023"}, "is not a day, month or year"),
        ({"when": ""}, "or choose “not known” above"),
        ({"when": "2087"}, "That is in the future"),
        ({"mats": " , "}, "Fill in this field"),
        ({"mats": "M-1 to M-2000"}, "“M-1 to M-2000” cannot be read"),
        ({"mats": "M-1–M-2000"}, "“M-1–M-2000” cannot be read"),
        ({"mats": "M 001, M 002"}, "“M 001” cannot be read"),
        ({"mats": "25-2"}, "“25-2” cannot be read: it runs backwards"),
        ({"mats": "M/1"}, "“M/1” is not a mat number"),
        ({"width_m": "wide"}, "Write a number, such as 1.5"),
        ({"times_a_year": "-3"}, "Write 0 or a number above it."),
        ({"cables": "100", "mats": "M-001 to M-900"}, "cables at a time"),
    ],
)
def test_a_wrong_answer_says_what_to_do_and_keeps_all_that_was_typed(keeper_client, changed, said):
    response = tell(keeper_client, answers(**changed))
    assert response.status_code == 422
    assert said in text_of(response).replace("&#x27;", "'")
    page = response.content.decode()
    for name, value in answers(**changed).items():
        if name not in ("token", "since", "band") and value.strip():
            assert value.strip() in page, name
    assert not Mat.objects.exists()


def test_a_mat_that_may_be_none_or_two_is_pointed_out_before_it_is_stored(keeper_client):
    shown = text_of(keeper_client.post(URL, answers(mats="FINISH\nK1-M5, 3")))
    assert "A mat for each word without a digit: FINISH." in shown
    assert "One mat each, and no range: K1-M5." in shown
    seven = ", ".join(f"D{depot}-M1" for depot in range(1, 8))
    assert "D5-M1, D6-M1, and 1 more." in text_of(keeper_client.post(URL, answers(mats=seven)))
    assert "One mat each" not in text_of(keeper_client.post(URL, answers()))


def test_a_mat_that_is_on_record_is_named_and_nothing_is_stored(keeper_client):
    make_mat("M-004")
    response = tell(keeper_client, answers())
    assert response.status_code == 422
    assert "On record already: M-004" in text_of(response)
    assert Mat.objects.count() == 1


def test_the_form_sent_twice_acts_once(keeper_client):
    given = form_in(keeper_client.post(URL, answers()))
    first, second = keeper_client.post(URL, given), keeper_client.post(URL, given)
    assert first.url == second.url
    assert Mat.objects.count() == 8


def test_another_kind_of_mat_gets_the_next_serials_and_leaves_the_policy_alone(keeper_client):
    tell(keeper_client, answers())
    assert "More mats" in text_of(keeper_client.get(URL))
    tell(keeper_client, answers(lengths_m="0.5 1.6", mats="K-1, K-2", band="902"))
    assert MatDesign.objects.filter(code="2 m, 4 cables (2)").exists()
    assert CableSegment.objects.order_by("serial").last().serial == "C-00040"
    assert PolicyValue.objects.get(setting="reference_mhz").value == 866.5
    assert Event.objects.count() == 12


def test_the_lengths_in_between_are_shown_before_anything_is_kept(keeper_client):
    page = keeper_client.post(URL, answers(lengths_m="0.5 3.5", cables="7", propose="yes")).content.decode()
    assert "0.5 1 1.5 2 2.5 3 3.5" in page
    assert "M-001 to M-008" in page
    assert not Mat.objects.exists()


def test_the_answer_shows_what_is_due_and_raises_the_first_order_with_one_tap(keeper_client):
    tell(keeper_client, answers(when="2019"))
    response = keeper_client.get("/start/answer/")
    assert "32 to change now." in text_of(response)
    page = response.content.decode()
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    segments = re.findall(r'name="segments" value="([^"]+)"', page)
    raised = keeper_client.post("/work-orders/raise/", {"token": token, "segments": segments})
    order = WorkOrder.objects.get()
    assert raised.url == order.get_absolute_url()
    assert (order.mat.number, order.lines.count()) == ("M-001", 4)
    assert order.number in text_of(keeper_client.get("/start/answer/"))


def test_the_cables_to_order_are_counted_by_length(keeper_client):
    tell(keeper_client, answers(when="2019", mats="M-001 to M-003", cables="2", lengths_m="0.4 1.6"))
    needed = keeper_client.get("/start/answer/").context["needed"]
    assert [(kind.length_m, kind.counts) for kind in needed] == [(0.4, (3, 3, 3)), (1.6, (3, 3, 3))]


def test_the_answer_asks_as_many_queries_for_two_mats_as_for_forty(keeper_client):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get("/start/answer/").status_code == 200
        return len(asked)

    tell(keeper_client, answers(mats="A-1 A-2", when="2019"))
    keeper_client.get("/start/answer/")
    few = queries()
    tell(keeper_client, answers(mats="B-1 to B-38", when="2019"))
    keeper_client.get("/start/answer/")
    assert queries() == few


def test_only_a_keeper_starts(bench_client):
    assert bench_client.post(URL, answers()).status_code == 403
    assert not Mat.objects.exists()


@pytest.mark.parametrize(
    ("times", "says", "may_count_twice"), [("24", True, False), ("6", True, True), ("", False, False)]
)
def test_the_answer_says_that_logged_events_replace_usual_use(keeper_client, times, says, may_count_twice):
    tell(keeper_client, answers(times_a_year=times))
    said = text_of(keeper_client.get("/start/answer/"))
    assert ("the logged events of that month replace its usual use" in said) is says
    assert ("which is the safe side" in said) is may_count_twice


def test_what_is_logged_after_the_start_is_not_added_to_what_was_told(keeper_client, keeper, today):
    """Told 28 a year, and two events of a month are loaded or logged: that month counts two, not two more."""
    tell(keeper_client, answers(times_a_year="28", mats="M-1", when=f"{today - timedelta(days=900)}"))
    row = Assessment.objects.first()
    told = row.event_count
    (usual,) = UsageEvent.objects.usual().order_by("-event__starts_on")[:1]
    for day in (3, 20):
        event = make_event(usual.event.starts_on.replace(day=day))
        log_event(event, {usual.mat: UsageValues("went")}, by=keeper, on=today)
    row.refresh_from_db()
    assert (row.event_count, row.given_way) == (told - usual.counts_for + 2, usual.counts_for)
