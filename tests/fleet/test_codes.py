"""Capitals make no other code: in the database, whichever way a code is written."""

import unicodedata
from threading import Barrier, Thread

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from factories import (
    make_batch,
    make_cable_type,
    make_depot,
    make_design,
    make_event,
    make_instrument,
    make_mat,
    make_mat_record,
    make_note,
    make_piece,
    make_sample,
    make_segment,
    make_series,
)

from fleet.models import CableSegment, Depot, Event, Mat
from fleet.models.codes import Coded
from fleet.models.fields import CodeField, CodeKeyField, code_key
from fleet.parsing.mat_lists import read_new_numbers
from fleet.selectors.numbering import free_design_code, next_free_serials
from fleet.selectors.segments import segment_named
from fleet.services.events import add_event, correct_event
from fleet.services.register import add_depot, correct_plain
from fleet.services.start_here import MatGroup, register_mats

MAKERS = {
    "cable type": make_cable_type,
    "depot": make_depot,
    "design": make_design,
    "event": lambda code: make_event(code=code),
    "instrument": make_instrument,
    "mat": make_mat,
    "batch": make_batch,
    "reference piece": make_piece,
    "record": make_mat_record,
    "sample": make_sample,
    "series": lambda code: make_series(code=code),
    "note": lambda code: make_note(make_segment(), code=code),
    "segment": lambda code: make_segment(serial=code),
}
DECOMPOSED = unicodedata.normalize("NFD", "Ü-1")
# the last two: one vowel with two marks in small letters, which is two characters in capitals
ALIKE = [("M-1", "m-1"), ("Ü-1", "ü-1"), ("Ü-1", DECOMPOSED), ("STRASSE", "Straße"), ("Ϊ́ 1", "ΐ 1")]


@pytest.mark.parametrize(("code", "other"), ALIKE)
def test_what_is_one_code_has_one_key(code, other):
    assert code_key(code) == code_key(other) == code_key(code_key(other))


@pytest.mark.parametrize(("code", "other"), [("U-1", "Ü-1"), ("M-1", "M 1"), ("M-1", "M-01"), ("O", "0")])
def test_what_differs_otherwise_is_another_code(code, other):
    assert code_key(code) != code_key(other)


def test_every_unique_code_has_its_key_and_no_trail_has():
    fields = [(model, field) for model in apps.get_models() for field in model._meta.local_fields]
    codes = {model for model, field in fields if isinstance(field, CodeField) and field.unique}
    assert codes == {model for model, field in fields if isinstance(field, CodeKeyField)}
    assert codes == {model for model in apps.get_models() if issubclass(model, Coded)}
    assert len(codes) == len(MAKERS) + 1
    assert all(field.unique for _, field in fields if isinstance(field, CodeKeyField))


# Written in every way


def in_full(mat, number):
    mat.number = number
    mat.save()


def one_field(mat, number):
    mat.number = number
    mat.save(update_fields=["number"])


def partly_loaded(mat, number):
    in_full(Mat.objects.only("number").get(pk=mat.pk), number)


def as_a_set(mat, number):
    Mat.objects.filter(pk=mat.pk).update(number=number)


def as_a_set_of_all(mat, number):
    Mat._base_manager.filter(pk=mat.pk).update(number=number)


def in_bulk(mat, number):
    mat.number = number
    Mat.objects.bulk_update([mat], ["number"])


def made_or_changed(mat, number):
    Mat.objects.update_or_create(pk=mat.pk, defaults={"number": number})


def corrected(mat, number):
    with transaction.atomic():
        mat.correct(by=None, number=number)


WAYS = [in_full, one_field, partly_loaded, as_a_set, as_a_set_of_all, in_bulk, made_or_changed, corrected]


@pytest.mark.django_db
@pytest.mark.parametrize("write", WAYS)
def test_the_key_goes_along_with_the_code(write):
    mat, other = make_mat("M-1"), make_mat("M-2")
    write(mat, "Ü-1")
    assert Mat.objects.values_list("number", "number_key").get(pk=mat.pk) == ("Ü-1", "ü-1")
    assert Mat.objects.values_list("number", "number_key").get(pk=other.pk) == ("M-2", "m-2")


@pytest.mark.django_db
def test_what_leaves_the_code_alone_leaves_the_key_alone():
    mat = make_mat("M-1")
    Mat.objects.update(owner="club")
    mat.owner = "hill club"
    mat.save(update_fields=["owner"])
    partly = Mat.objects.only("owner").get()
    partly.owner = "bank club"
    partly.save()
    assert Mat.objects.values_list("number", "number_key", "owner").get() == ("M-1", "m-1", "bank club")


@pytest.mark.django_db
@pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS)
@pytest.mark.parametrize(("code", "other"), ALIKE)
def test_the_database_refuses_the_same_code_in_other_capitals(make, code, other):
    make(code)
    with pytest.raises(IntegrityError), transaction.atomic():
        make(other)


@pytest.mark.django_db
def test_the_database_refuses_it_of_rows_written_together():
    with pytest.raises(IntegrityError), transaction.atomic():
        Depot.objects.bulk_create([Depot(name="Quay"), Depot(name="QUAY")])


# Refused in words


@pytest.mark.django_db
def test_a_refusal_names_what_is_there(keeper, on):
    make_depot("Über der Brücke")
    with pytest.raises(ValidationError) as refused:
        add_depot(by=keeper, name="ÜBER DER BRÜCKE")
    assert refused.value.message_dict == {"name": ["There is Über der Brücke already. Write another one."]}


@pytest.mark.django_db
def test_an_event_is_not_corrected_to_the_code_of_another(keeper, on):
    first = add_event(by=keeper, name="Hill run", starts_on=on, code="Ü-1")
    with pytest.raises(ValidationError) as refused:
        add_event(by=keeper, name="Bank run", starts_on=on, code="ü-1")
    assert refused.value.message_dict == {"code": ["There is Ü-1 already. Write another one."]}
    second = add_event(by=keeper, name="Bank run", starts_on=on, code="B-1")
    with pytest.raises(ValidationError, match="There is Ü-1 already"):
        correct_event(second, by=keeper, on=on, code="ü-1")
    assert correct_event(first, by=keeper, on=on, code="ü-1").code == "ü-1"


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("act", ["add", "correct"])
def test_of_two_who_write_one_code_at_once_one_is_told_what_is_there(act, monkeypatch):
    """Both have looked before either has stored."""
    gate, outcomes = Barrier(2), {}
    looked = Depot.validate_unique

    def look_together(self, *args, **kwargs):
        looked(self, *args, **kwargs)
        gate.wait(20)

    depots = {"Quay Ü": make_depot("first"), "QUAY ü": make_depot("second")}
    # a correction on SQLite looks and stores under one lock: there the second cannot have looked
    if act == "add" or connection.vendor == "postgresql":
        monkeypatch.setattr(Depot, "validate_unique", look_together)

    def write(name):
        try:
            if act == "add":
                outcomes[name] = str(add_depot(by=None, name=name))
            else:
                outcomes[name] = str(correct_plain(depots[name], by=None, name=name))
        except ValidationError as refused:
            outcomes[name] = refused.message_dict
        finally:
            connection.close()

    threads = [Thread(target=write, args=(name,)) for name in depots]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    stored = Depot.objects.get(name_key="quay ü").name
    told = {"name": [f"There is {stored} already. Write another one."]}
    assert outcomes == {name: stored if name == stored else told for name in depots}


# Given by the app


@pytest.mark.django_db
def test_codes_that_the_app_gives_are_free_in_capitals_or_not(keeper, on):
    make_event(on, code=f"e-{on.year}-07")
    assert add_event(by=keeper, name="Hill run", starts_on=on).code == f"E-{on.year}-08"
    make_segment(serial="c-00041")
    assert next_free_serials(1) == ["C-00042"]
    make_design("2 M, 4 CABLES")
    make_design("2 m, 4 cables (2)")
    assert free_design_code("2 m, 4 cables") == "2 m, 4 cables (3)"


@pytest.mark.django_db
def test_mats_begun_with_are_not_those_on_record_in_other_capitals(keeper, on):
    make_mat("M-001")
    assert read_new_numbers("m-7, M-7, Ü-1 to 2, ü-2").numbers == ("m-7", "Ü-1", "Ü-2")
    with pytest.raises(ValidationError, match="On record already: M-001"):
        register_mats([MatGroup(1.2, (0.5,), ("m-001", "m-002"), on, "about")], by=keeper, on=on)
    assert (Mat.objects.count(), Event.objects.count()) == (1, 0)


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["Ü-00017", "ü-00017", unicodedata.normalize("NFD", "ü-00017")])
def test_a_cable_is_found_by_its_serial_however_it_is_typed(typed):
    make_segment(serial="Ü-00017")
    assert segment_named(typed) == CableSegment.objects.get()
