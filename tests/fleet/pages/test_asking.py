"""What a form is asked about before it is saved, on the page and sent again, as a browser does it."""

import re
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from factories import make_event, make_mat

from fleet.models import Event
from fleet.services.settling import UsageValues
from fleet.services.usage import log_event

pytestmark = pytest.mark.django_db
LOG = "/events/log/"
TICK = re.compile(r'name="confirmed" value="([0-9a-f ]+)"')
# signing in asks nothing
NEVER_ASKED = {"login.html"}


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
    assert keeper_client.post(LOG, values | {"confirmed": tick_of(second)}).status_code == 302
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
    forms = [path for path in Path(folder).rglob("*.html") if "form-errors" in path.read_text()]
    silent = {path.name for path in forms if "includes/_asked.html" not in path.read_text()}
    assert len(forms) > 8
    assert silent == NEVER_ASKED
