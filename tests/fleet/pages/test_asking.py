"""What a form is asked about before it is saved, on the page and sent again, as a browser does it."""

import html
import re
import uuid
from datetime import date, timedelta
from pathlib import Path

import pytest
from factories import make_cable_type, make_event, make_mat, make_segment, make_series, make_usage_event
from page_forms import form_in

from fleet.models import CableSegment, Event
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event

pytestmark = pytest.mark.django_db
LOG = "/events/log/"
TICK = re.compile(r'name="confirmed" value="([0-9a-f ]+)"')
# signing in asks nothing, Start here asks where it shows what it understood, without signal nobody is asked yet, and a
# value of a batch asks beside its field; labels store nothing, nor does what is said of the columns of a sheet, nor
# rules that are tried; using limits shows what would change before it is done
NEVER_ASKED = {"login.html", "start.html", "queue_shell.html", "_value_form.html", "choose.html"}
NEVER_ASKED |= {"columns.html", "_sheet.html", "trial.html", "use.html"}


def tick_of(answer):
    """The value of the one tick of a page that asks."""
    (value,) = TICK.findall(answer.content.decode())
    return value


def a_run(today, **values):
    """A form that logs Hill run of today with M-001 and plans it for the two weeks after."""
    empty = {"starts_on": str(today), "ends_on": "", "place": "", "weather": "", "code": "", "paste": ""}
    rest = {"hours_out": "", "fold_cycles": "", "counts_for": "1", "basis": "counted", "act": "log"}
    weekly = {"every_weeks": "1", "until": str(today + timedelta(weeks=2)), "event": "new", "name": "Hill run"}
    return {"token": str(uuid.uuid4()), "mats": ["M-001"], **empty, **rest, **weekly, **values}


@pytest.fixture
def booked(today):
    """M-001 went to Canal run today and is planned for another one in a week."""
    mat = make_mat("M-001")
    for code, day, state in (("E-1", today, "went"), ("E-2", today + timedelta(weeks=1), "planned")):
        log_event(make_event(day, code=code, name="Canal run"), {mat: UsageValues(state)}, by=None, on=today)


def test_two_questions_of_one_form_are_answered_with_one_tick_a_page(keeper_client, today, booked):
    values = a_run(today)
    first = keeper_client.post(LOG, values)
    assert first.status_code == 422
    assert "They went to both events" in first.content.decode()
    second = keeper_client.post(LOG, values | {"confirmed": tick_of(first)})
    assert second.status_code == 422
    assert "Leave this week out" in second.content.decode()
    leave_week_out, leave_mat_out = TICK.findall(second.content.decode())
    assert leave_week_out.split()[0] == leave_mat_out.split()[0] == tick_of(first)
    assert keeper_client.post(LOG, values | {"confirmed": leave_week_out}).status_code == 302
    assert Event.objects.filter(name="Hill run").count() == 2


def test_what_was_typed_stays_when_a_form_asks(keeper_client, today, booked):
    page = keeper_client.post(LOG, a_run(today, place="Ridge <3>", hours_out="6,5")).content.decode()
    assert 'value="Ridge &lt;3&gt;"' in page
    assert 'value="6,5"' in page


def test_a_tick_left_out_or_made_up_asks_again(keeper_client, today, booked):
    values = a_run(today)
    for answer in ("", "on", "0123456789abcdef", "<b>" * 400):
        page = keeper_client.post(LOG, values | {"confirmed": answer})
        assert page.status_code == 422
        assert len(tick_of(page)) <= 33
    assert not Event.objects.filter(name="Hill run").exists()


def test_every_form_that_says_what_is_wrong_also_shows_what_is_asked(settings):
    (folder,) = settings.TEMPLATES[0]["DIRS"]
    pages = [path for path in Path(folder).rglob("*.html") if path.name != "_form_errors.html"]
    forms = [path for path in pages if re.search("form[-_]errors", path.read_text())]
    # the usual form holds the question
    asks = ("includes/_asked.html", "includes/_form.html")
    silent = {path.name for path in forms if not any(include in path.read_text() for include in asks)}
    assert len(forms) > 8
    assert silent == NEVER_ASKED


def a_cable(**values):
    """The form that adds a cable."""
    return {"serial": "C-00001", "cable_type": make_cable_type("thin").name, "length_m": "1.5", "lot": "", **values}


def page_of(answer):
    return html.unescape(" ".join(answer.content.decode().split()))


def test_an_unusual_value_is_asked_about_and_stored_once_it_is_meant(keeper_client):
    values = a_cable(length_m="125", lot="7 <b>")
    asked = keeper_client.post("/cables/add/", values)
    assert (asked.status_code, CableSegment.objects.count()) == (422, 0)
    assert (
        "Length in m: 125. A cable length is mostly 0.05 to 20 m. Did you mean 1.25 m (125 cm) or 0.125 m (125 mm)?"
    ) in page_of(asked)
    assert form_in(asked) == {"csrfmiddlewaretoken": form_in(asked)["csrfmiddlewaretoken"]} | values | {
        "as_new_loss_db": "",
        "events_before": "",
        "depot": "",
    }
    assert keeper_client.post("/cables/add/", values | {"confirmed": tick_of(asked)}).status_code == 302
    assert CableSegment.objects.get().length_m == 125


def test_a_tick_for_one_value_is_none_for_another(keeper_client):
    values = a_cable(length_m="125")
    tick = tick_of(keeper_client.post("/cables/add/", values))
    other = keeper_client.post("/cables/add/", values | {"length_m": "126", "confirmed": tick})
    assert (other.status_code, CableSegment.objects.count()) == (422, 0)
    assert "Length in m: 126. " in page_of(other)
    more = keeper_client.post("/cables/add/", values | {"as_new_loss_db": "50", "confirmed": tick})
    assert (more.status_code, CableSegment.objects.count()) == (422, 0)


def test_an_absurd_value_is_refused_whatever_is_ticked(keeper_client):
    values = a_cable(length_m="1250")
    refused = keeper_client.post("/cables/add/", values)
    assert "A cable length is a number of m from 0.005 to 1000. Did you mean 12.5 m (1250 cm)" in page_of(refused)
    assert "confirmed" not in page_of(refused)
    tick = tick_of(keeper_client.post("/cables/add/", values | {"length_m": "125"}))
    assert keeper_client.post("/cables/add/", values | {"confirmed": tick}).status_code == 422
    assert not CableSegment.objects.exists()


def test_a_stored_value_that_stays_is_not_asked_about_again(keeper_client):
    segment = make_segment(125, serial="C-00001")
    address = f"/cables/{segment}/correct/"
    values = form_in(keeper_client.get(address)) | {"lot": "7"}
    assert keeper_client.post(address, values).status_code == 302
    values = form_in(keeper_client.get(address)) | {"length_m": "130"}
    assert keeper_client.post(address, values).status_code == 422
    segment.refresh_from_db()
    assert (segment.lot, segment.length_m) == ("7", 125)


def test_a_length_in_the_address_is_asked_about_like_a_typed_one(keeper_client):
    address = "/cables/add/?length_m=125"
    values = form_in(keeper_client.get(address)) | a_cable(length_m="125")
    assert keeper_client.post(address, values).status_code == 422


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("0026-05-02", "The year 0026 cannot be right: write one from 1900 to 2199. Did you mean 2 May 2026?"),
        ("9999-12-31", "The year 9999 cannot be right"),
        ("2.5.26", "“2.5.26” has two digits for the year. Did you mean 2.5.2026?"),
    ],
)
def test_a_year_that_nobody_means_is_refused_with_the_one_that_was_meant(keeper_client, today, typed, says):
    make_mat("M-001")
    for values in ({"starts_on": typed}, {"until": typed}):
        refused = keeper_client.post(LOG, a_run(today, **values))
        assert refused.status_code == 422
        assert says in page_of(refused)
    assert not Event.objects.exists()


def test_an_event_many_years_ahead_asks(keeper_client, today):
    make_mat("M-001")
    day = today.replace(year=today.year + 5, day=1)
    values = a_run(today, starts_on=str(day), until="")
    asked = keeper_client.post(LOG, values)
    said = f"First day: {day}. A day of an event is mostly from 1950 to 3 years ahead."
    assert asked.context["form"].refused.points == [said]
    assert keeper_client.post(LOG, values | {"confirmed": tick_of(asked)}).status_code == 302
    assert Event.objects.get().starts_on == day


def test_what_differs_for_one_mat_is_asked_about_by_its_number(keeper_client, today):
    mat = make_mat("M-001")
    differs = {"differ": "1", f"mat{mat.pk}-hours_out": "330", f"mat{mat.pk}-counts_for": "", f"mat{mat.pk}-basis": ""}
    values = a_run(today, until="", **differs, **{f"mat{mat.pk}-fold_cycles": ""})
    asked = keeper_client.post(LOG, values)
    said = "M-001, Hours out: 330. A number of hours is mostly 0 to 72. Did you mean 5.5 (330 minutes)?"
    assert said in page_of(asked)
    assert keeper_client.post(LOG, values | {"confirmed": tick_of(asked)}).status_code == 302


def test_a_new_event_that_was_typed_and_not_chosen_is_not_asked_about(keeper_client, today):
    make_mat("M-001")
    event = make_event(today)
    far = str(today.replace(year=today.year + 5, day=1))
    values = a_run(today, event=event.code, starts_on=far, until="")
    assert keeper_client.post(LOG, values).status_code == 302


def test_lengths_of_a_new_design_are_asked_about_in_one_sentence(keeper_client):
    values = {"code": "Fen 200", "lengths_m": "0,45 95 145", "cable_type": make_cable_type("thin").name}
    asked = keeper_client.post("/designs/add/", values)
    said = "Cable lengths in m: 0.45 95 145. 95: A cable length is mostly 0.05 to 20 m. Did you mean 0.95 m (95 cm)"
    assert said in page_of(asked)
    assert keeper_client.post("/designs/add/", values | {"confirmed": tick_of(asked)}).status_code == 302


OLD = date(26, 5, 2)


def test_a_day_of_an_older_version_is_shown_and_can_be_put_right(keeper_client):
    """Stored before there were limits, or restored from such a back-up."""
    mat, event = make_mat("M-001", acquired_on=OLD), make_event(OLD, code="E-1")
    make_usage_event(mat, event, state="planned")
    for address in (f"/mats/{mat}/", "/events/", "/events/E-1/", "/", "/events/E-1/answer/", LOG, f"{LOG}?event=E-1"):
        assert keeper_client.get(address).status_code == 200
    values = form_in(keeper_client.get("/events/E-1/correct/"))
    right = {"starts_on": "2026-05-02", "ends_on": "2026-05-02"}
    assert keeper_client.post("/events/E-1/correct/", values | right).status_code == 302
    event.refresh_from_db()
    assert event.ends_on == date(2026, 5, 2)


def test_an_old_absurd_value_does_not_keep_the_rest_from_being_corrected(keeper_client, today):
    segment = make_segment(1e100, serial="C-00001")
    values = {"withdrawn_on": str(today), "reason": "lost", "version": 1}
    assert keeper_client.post("/cables/C-00001/withdraw/", values).status_code == 302
    mat, event = make_mat("M-001"), make_event(today - timedelta(days=1), code="E-1")
    usage = make_usage_event(mat, event, state="planned", hours_out=1e100)
    values = form_in(keeper_client.get("/events/E-1/answer/"))
    assert keeper_client.post("/events/E-1/answer/", values | {"state": "went"}).status_code == 302
    segment.refresh_from_db(), usage.refresh_from_db()
    assert (segment.withdrawal_reason, usage.state) == ("lost", "went")


@pytest.mark.parametrize("day", [date(1, 1, 1), date(9999, 12, 31)])
def test_an_old_event_at_an_end_of_the_calendar_is_not_repeated_and_breaks_nothing(keeper_client, day):
    series = make_series(day, weeks=0)
    event = make_event(day, code="E-1", series=series, name=series.name)
    make_usage_event(make_mat("M-001"), event, state="planned")
    make_event(day, code="E-2")
    rest = {"name": "New", "weekday": "2", "length_days": "3", "mats": "M-001", "version": event.version}
    sent = [
        ("/events/E-1/rest/", rest),
        (f"/series/{series.pk}/end/", {"last_day": str(day), "version": 1}),
        ("/events/E-2/repeat/", {"token": str(uuid.uuid4()), "every_weeks": "1", "until": "2026-06-01"}),
    ]
    for address, values in sent:
        assert keeper_client.get(address).status_code == 200
        assert keeper_client.post(address, values).status_code == 422
    for address in ("/events/", "/events/E-1/", f"/series/{series.pk}/", f"{LOG}?event=E-1", "/", "/mats/M-001/"):
        assert keeper_client.get(address).status_code == 200


def test_a_second_event_of_one_name_and_day_is_asked_about(keeper_client, today):
    make_event(today, code="E-1", name="Üben", place="Fen")
    form = {"token": str(uuid.uuid4()), "name": "üben", "starts_on": str(today), "place": "Mill"}
    asked = keeper_client.post("/events/add/", form)
    assert asked.status_code == 422
    assert "There is already an event of this name on that day: E-1 Üben." in page_of(asked)
    answer = keeper_client.post("/events/add/", form | {"confirmed": tick_of(asked)})
    assert answer.url == Event.objects.get(place="Mill").get_absolute_url()


def test_an_event_that_becomes_the_same_as_another_is_asked_about(keeper_client, today):
    make_event(today, code="E-1", name="Hill run")
    make_event(today - timedelta(days=7), code="E-2", name="Hill run")
    form = form_in(keeper_client.get("/events/E-2/correct/")) | {"starts_on": str(today), "ends_on": str(today)}
    asked = keeper_client.post("/events/E-2/correct/", form)
    assert "There is already an event of this name on that day: E-1 Hill run." in page_of(asked)
    assert keeper_client.post("/events/E-2/correct/", form | {"confirmed": tick_of(asked)}).status_code == 302
    assert set(Event.objects.values_list("starts_on", flat=True)) == {today}
