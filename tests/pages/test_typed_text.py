"""What nobody sees is stored nowhere: forms and files say which character to take out. What stands already stays."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models, transaction
from factories import make_design, make_event, make_fault, make_mat, make_reading, make_series, make_usage_event
from page_forms import form_in
from pool_files import pool_files

from fleet.models import Event, Mat, MatDesign
from fleet.models.fields import CodeField, CodeKeyField, LineField, LinesField
from fleet.models.trail import Recorded
from fleet.validators import check_code, check_line, check_lines
from inspections.files.loading import check_pool_files

UNSEEN = {
    "\x1b[31mred": "Take out character 1, a control character (U+001B): it cannot be seen.",
    "a\x07": "Take out character 2, a control character (U+0007): it cannot be seen.",
    "ab\x85": "Take out character 3, a control character (U+0085): it cannot be seen.",
    "a\u202eb": "Take out character 2, a control character (U+202E): it cannot be seen.",
    "a\ud800": "Take out character 2, a control character (U+D800): it cannot be seen.",
    "one\ntwo": "Take out character 4, a line break: this is one line of text.",
    "one\ttwo": "Take out character 4, a tab: this is one line of text.",
}
ESCAPE = "seen\x1b[31m"


@pytest.mark.parametrize(("text", "said"), UNSEEN.items())
def test_a_line_says_which_character_cannot_stand_in_it(text, said):
    with pytest.raises(ValidationError, match=r".") as refusal:
        check_line(text)
    assert refusal.value.messages == [said]


@pytest.mark.parametrize("text", ["", "Öl – 20 °C, 3½ m", "👩\u200d🔧 a\u00a0b\u00adc", "\u200e٣٫٥", "C:\\mats"])
def test_what_people_write_in_any_language_is_taken(text):
    check_line(text)
    check_lines(text)


def test_lines_may_end_and_be_indented_and_hold_nothing_else_unseen():
    check_lines("1. open\r\n\t2. look\n")
    with pytest.raises(ValidationError, match="character 2"):
        check_lines("a\x1b\n")


@pytest.mark.parametrize(("code", "place"), [("M/1", 2), ("M-1\x1b", 4), ("a\\b", 2), ("M\u200d1", 2)])
def test_a_code_says_which_character_is_wrong(code, place):
    with pytest.raises(ValidationError, match=f"take out character {place}\\."):
        check_code(code)


def typed_fields():
    rows = [model for model in apps.get_models() if issubclass(model, Recorded)]
    fields = [(model, field) for model in rows for field in model._meta.local_concrete_fields if not field.choices]
    texts = [(model, f) for model, f in fields if isinstance(f, models.CharField | models.TextField)]
    # what no form asks for is the app's own
    return [(model, f) for model, f in texts if f.editable or isinstance(f, CodeKeyField)]


def test_every_text_that_is_typed_has_the_type_that_refuses():
    kinds = (LineField, LinesField, CodeField, CodeKeyField)
    assert [f"{model.__name__}.{f.name}" for model, f in typed_fields() if not isinstance(f, kinds)] == []
    assert [f"{model.__name__}.{f.name}" for model, f in typed_fields() if isinstance(f, LinesField)] == [
        "MatDesign.steps"
    ]


@pytest.fixture
def pool(today, keeper):
    """Addresses of the forms that hold text, and the rows behind them."""
    mat = make_mat("M-1", fitted=True, design=make_design("four"))
    make_mat("M-2", design=mat.design)
    series = make_series(today - timedelta(days=7))
    for weeks in range(-1, 3):
        event = make_event(today + timedelta(weeks=weeks, days=1), series=series, code=f"E-{weeks + 2}")
    make_usage_event(mat, event, state="planned")
    segment = mat.fittings.first().segment
    fault, reading = make_fault(mat, reported_on=today), make_reading(segment, measured_on=today)
    return {"segment": segment.serial, "series": series.pk, "fault": fault.pk, "reading": reading.pk}


FORMS = {
    "/mats/add/ owner": {"number": "M-3", "design": "four", "cables": "later"},
    "/mats/M-1/correct/ owner": {},
    "/mats/M-1/correct/ reason": {"owner": "somebody"},
    "/mats/M-2/withdraw/ reason": {},
    "/cables/{segment}/correct/ lot": {},
    "/events/add/ name": {},
    "/events/add/ place": {"name": "run"},
    "/events/log/ name": {"event": "new", "act": "log", "paste": "M-1"},
    "/events/E-4/correct/ place": {},
    "/events/E-3/rest/ name": {},
    "/events/E-3/rest/ reason": {"name": "other"},
    "/series/{series}/end/ reason": {},
    "/mats/M-1/notes/add/ text": {},
    "/mats/M-1/faults/report/ what": {"place": "whole mat"},
    "/faults/{fault}/correct/ what": {},
    "/faults/{fault}/end/ reason": {"end_reason": "repair"},
    "/mats/M-1/positions/1/take-out/ reason": {"goes": "back to the shelf"},
    "/readings/{reading}/void/ reason": {},
    "/readings/{reading}/doubtful/ reason": {},
    "/policy/ reason": {"pool.age_limit_years": "4"},
    "/bench/M-1/ measured_by": {},
    "/designs/four/correct/ steps": {},
    "/designs/four/withdraw/ reason": {},
}


@pytest.mark.django_db
@pytest.mark.parametrize(("form", "values"), FORMS.items(), ids=FORMS)
def test_a_form_says_which_character_to_take_out_and_takes_it_without(keeper_client, pool, form, values):
    place, name = form.format(**pool).split()
    sent = form_in(keeper_client.get(place)) | values
    if name == "measured_by":
        sent |= {key: "0.8" for key in sent if key.startswith("found-")}
    with transaction.atomic():
        answer = keeper_client.post(place, sent | {name: ESCAPE})
        transaction.set_rollback(True)
    assert answer.status_code == 422
    assert name in answer.context["form"].errors
    assert "Take out character 5, a control character (U+001B): it cannot be seen." in answer.content.decode()
    assert keeper_client.post(place, sent | {name: "seen"}).status_code == 302


@pytest.mark.django_db
def test_steps_of_work_have_lines(keeper_client, pool):
    form = form_in(keeper_client.get("/designs/four/correct/"))
    assert keeper_client.post("/designs/four/correct/", form | {"steps": "open\r\nlook"}).status_code == 302
    assert MatDesign.objects.get(code="four").steps == "open\nlook"


@pytest.mark.django_db
def test_a_row_from_before_keeps_its_text_when_something_else_is_corrected(keeper_client, pool):
    Mat.objects.update(owner=ESCAPE)
    form = form_in(keeper_client.get("/mats/M-2/withdraw/"))
    assert keeper_client.post("/mats/M-2/withdraw/", form | {"reason": "torn"}).status_code == 302
    mat = Mat.objects.get(number="M-2")
    assert (mat.owner, mat.withdrawal_reason) == (ESCAPE, "torn")


@pytest.mark.django_db
def test_a_file_says_which_character_to_take_out(on):
    faults = 'mat,reported_on,fault,place,what\nM-1,2025-05-05,1,whole mat,"torn\nat the end"\n'
    events = "event,name,starts_on,ends_on\nE-1,run\x1b[31m,2026-05-02,2026-05-02\n"
    found = check_pool_files({"faults.csv": faults.encode(), "events.csv": events.encode()}, on=on).errors.in_order()
    said = {error.column: (error.line, error.found, error.expected) for error in found}
    assert said["what"][2] == "Take out character 5, a line break: this is one line of text."
    assert said["name"][:2] == (2, "“run\ufffd[31m”")
    assert "character 4" in said["name"][2]
    assert not Event.objects.exists()


@pytest.mark.django_db
def test_a_pool_that_holds_no_such_text_loads_as_before(on):
    assert check_pool_files(pool_files(), on=on).errors.count == 0
