"""Capitals make no other code in files either: m-1 is taken as the M-1 that is there, and said so."""

import unicodedata
from datetime import date

import pytest
from pool_files import pool_files, row_counts

from fleet.intake import FilesRefused
from fleet.models import CableSegment, Depot, Event, Mat
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.models import Instrument, Measurement, PolicyValue

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
OTHERWISE = {
    "M-": "m-",
    "C-": "c-",
    "E-": "e-",
    "four": "FOUR",
    "thin": "THIN",
    "bridge 1": "BRIDGE 1",
    "Quay Street": "QUAY street",
    "Upper Mill": "upper mill",
}


def load(contents):
    return load_pool_files(contents, by=None, on=ON)


def in_other_capitals(contents):
    def rewritten(text):
        for code, other in OTHERWISE.items():
            text = text.replace(code, other)
        return text

    return {name: rewritten(content.decode()).encode() for name, content in contents.items()}


def spoken(findings):
    return [(f.file, f.line, f.column, f.found, f.expected) for f in findings.in_order()]


def errors_of(contents):
    return spoken(check_pool_files(contents, on=ON).errors)


def test_the_same_pool_in_other_capitals_is_there_already():
    load(pool_files())
    before = row_counts()
    files, stored = load(in_other_capitals(pool_files()))
    assert (files.errors.count, stored, row_counts()) == (0, None, before)
    assert set(Mat.objects.values_list("number", flat=True)) == {"M-1", "M-2"}


def test_each_spelling_is_noted_once_a_column():
    load(pool_files())
    files = check_pool_files({"usage.csv": b"event,mat,state\ne-1,m-1,went\nE-2,m-1,went\n"}, on=ON)
    taken = "the same except for capital letters; it is taken as that"
    assert spoken(files.warnings)[:2] == [
        ("usage.csv", 2, "event", "“e-1”", f"“E-1”, {taken}"),
        ("usage.csv", 2, "mat", "“m-1”", f"“M-1”, {taken}"),
    ]


def test_a_row_that_says_otherwise_is_refused_with_what_is_stored():
    load(pool_files())
    refused = errors_of({"mats.csv": b"mat,design,depot,owner\nm-1,four,quay street,hill club\n"})
    assert refused == [
        ("mats.csv", 2, "owner", "“hill club” for M-1", "“pool”, as stored; correct it on its page"),
    ]


@pytest.mark.parametrize(("code", "other"), [("M-1", "m-1"), ("Ü-1", "ü-1"), ("Ü-1", "U\N{COMBINING DIAERESIS}-1")])
def test_one_file_names_a_mat_once(code, other):
    mats = f"mat,design\n{code},four\nM-2,four\n{other},four\n"
    only = {"mats": mats} | dict.fromkeys(("fittings", "usage", "measurements", "faults", "notes"))
    expected = f"each mat once; line 2 has {code}, the same except for capital letters"
    assert errors_of(pool_files(**only)) == [("mats.csv", 4, "mat", other, expected)]


def test_keys_of_several_columns_are_compared_without_capitals():
    twice = "setting,value,design,depot\nevent_limit,100,four,\nevent_limit,90,FOUR,\n"
    assert errors_of(pool_files(policy=twice)) == [
        (
            "policy.csv",
            3,
            "setting",
            "event_limit, FOUR, none, none",
            "each setting and design and position and depot once; line 2 has event_limit, four, none, none, "
            "the same except for capital letters",
        )
    ]


def test_files_of_one_set_mean_the_same_mats_cables_and_depots():
    contents = pool_files()
    respelled = in_other_capitals({name: contents[name] for name in ("fittings.csv", "usage.csv", "measurements.csv")})
    load(contents | respelled | {"policy.csv": b"setting,value,design,depot\nhas_bench,0,,quay STREET\n"})
    assert set(Depot.objects.values_list("name", flat=True)) == {"Quay Street"}
    assert PolicyValue.objects.get().depot == Depot.objects.get()
    assert Instrument.objects.get() == Measurement.objects.exclude(instrument=None).get().instrument
    assert sorted(CableSegment.objects.values_list("serial", flat=True)) == ["C-1", "C-2", "C-3"]
    assert Mat.objects.get(number="M-1").fittings.count() == 2


def test_depots_named_in_one_file_in_two_ways_are_one():
    mats = "mat,design,depot\nM-1,four,Über der Brücke\nM-2,four,ÜBER DER BRÜCKE\n"
    mats += f"M-3,four,{unicodedata.normalize('NFD', 'über der Brücke')}\n"
    load(pool_files(mats=mats, policy=None))
    assert Depot.objects.get().mats.count() == 3


def test_a_depot_on_record_is_used_however_a_file_writes_it():
    quay = Depot.objects.create(name="quay street")
    load(pool_files())
    assert Mat.objects.get(number="M-1").depot == quay
    assert set(Depot.objects.values_list("name", flat=True)) == {"quay street", "Upper Mill"}


def test_an_event_and_an_instrument_are_not_stored_a_second_time():
    load(pool_files())
    events = b"event,name,starts_on,ends_on\ne-1,Other run,2025-08-03,2025-08-03\n"
    instruments = b"instrument,standard_uncertainty_db\nBridge 1,0.2\n"
    with pytest.raises(FilesRefused) as refused:
        load({"events.csv": events, "instruments.csv": instruments})
    output = [(error.file, error.line, error.column) for error in refused.value.files.errors.in_order()]
    assert ("events.csv", 2, "name") in output and ("instruments.csv", 2, "standard_uncertainty_db") in output
    assert (Event.objects.count(), Instrument.objects.count()) == (3, 1)


def test_rules_across_files_see_one_mat():
    """Planned twice on one day is refused, whichever way the mat is written."""
    events = "event,name,starts_on,ends_on\nE-1,a,2028-05-03,2028-05-03\nE-2,b,2028-05-03,2028-05-03\n"
    usage = "event,mat,state\nE-1,M-1,planned\nE-2,m-1,planned\n"
    refused = errors_of(pool_files(events=events, usage=usage))
    expected = "a mat planned once a day; line 2: E-1"
    assert refused == [("usage.csv", 3, "mat", "M-1 at E-2 on 2028-05-03", expected)]
