"""Start here with several kinds of mat and several dates in one run: shown, then stored, nothing typed twice."""

import uuid

import pytest
from factories import make_mat
from page_forms import form_in
from page_words import words_in
from start_pages import tell

from fleet.models import CableSegment, CableType, DesignPosition, Event, Fitting, Load, Mat, MatDesign, UsageEvent

pytestmark = pytest.mark.django_db
URL = "/start/"
# the pool of the season: 1-5 changed in spring 2023, 6-9 bought new in 05/2024, K1-K5 not known
SEASON = {
    "width_m": "4",
    "cables": "8",
    "lengths_m": "about 0,5 to 4",
    "mats": "1-5",
    "since": "changed",
    "when": "spring 2023",
    "times_a_year": "25-30",
    "shape": "2 1",
    "group2-mats": "6, 7, 8 and 9",
    "group2-since": "new",
    "group2-when": "05/2024",
    "kind2-width_m": "2",
    "kind2-cables": "4",
    "kind2-lengths_m": "0.5 1 1.5 2",
    "kind2-mats": "K1, K2, K3 / K4 und K5 (old)",
    "kind2-since": "not known",
    "kind2-times_a_year": "28",
    "band": "865",
}


def typed(**changed):
    return SEASON | {"token": str(uuid.uuid4())} | changed


def text_of(response):
    return words_in(response.content.decode())


def test_what_was_understood_is_shown_before_anything_is_stored(keeper_client):
    shown = keeper_client.post(URL, typed())
    said = text_of(shown)
    for words in (
        "14 mats with 92 cables. Nothing is stored yet.",
        "5 mats 1, 2, 3, 4, 5",
        "4 mats 6, 7, 8, 9",
        "5 mats K1, K2, K3, K4, K5 Left out, as notes: (old)",
        "Cables fitted about spring 2023 Mats bought not recorded",
        "Cables fitted about May 2024 Mats bought about May 2024",
        "Cables fitted not known",
        "25 to 30 times a year, counted as 28",
        "8 in each mat: 0.50 m, 1.00 m (estimated)",
        "4 in each mat: 0.50 m, 1.00 m, 1.50 m, 2.00 m",
    ):
        assert words in said, words
    assert not (Mat.objects.exists() or Event.objects.exists() or Load.objects.exists())


def test_fourteen_mats_with_three_dates_are_one_run(keeper_client):
    assert tell(keeper_client, typed()).url == "/start/answer/"
    designs = dict(MatDesign.objects.values_list("code", "width_m"))
    assert designs == {"4 m, 8 cables": 4.0, "2 m, 4 cables": 2.0}
    fitted = {(str(day), basis) for day, basis in _fitted("1", "5")}
    assert fitted == {("2023-04-16", "about")}
    assert {(str(day), basis) for day, basis in _fitted("6", "9")} == {("2024-05-15", "about")}
    assert {basis for _, basis in _fitted("K1", "K5")} == {"not later than"}
    bought = dict(Mat.objects.exclude(acquired_on=None).values_list("number", "acquired_basis"))
    assert bought == dict.fromkeys("6789", "about")
    assert sum(UsageEvent.objects.filter(mat__number="6").values_list("counts_for", flat=True)) == 28


def _fitted(*numbers):
    return Fitting.objects.filter(mat__number__in=numbers).values_list("fitted_on", "fitted_basis")


def test_every_row_of_a_run_names_its_load(keeper_client, keeper):
    tell(keeper_client, typed())
    load = Load.objects.get()
    assert (load.source, load.loaded_by) == ("Start here", keeper)
    for model in (Mat, CableSegment, Fitting, UsageEvent, Event, MatDesign, DesignPosition, CableType):
        assert set(model.objects.values_list("load", flat=True)) == {load.pk}, model


def test_all_that_was_typed_comes_back_to_be_changed(keeper_client):
    given = typed()
    back = keeper_client.post(URL, form_in(keeper_client.post(URL, given)) | {"back": "yes"})
    kept = form_in(back)
    assert {name: kept[name] for name in given} == given
    assert not Mat.objects.exists()


def test_another_date_and_another_kind_are_added_without_retyping(keeper_client):
    given = {name: value for name, value in typed(shape="1").items() if "kind2" not in name and "group2" not in name}
    more = form_in(keeper_client.post(URL, given | {"more_groups": "1"}))
    assert {name: more[name] for name in given if name != "shape"} | {"shape": "1"} == given
    assert (more["shape"], more["group2-mats"], more["group2-when"]) == ("2", "", "")
    more = form_in(keeper_client.post(URL, more | {"group2-mats": "6-9", "group2-since": "new", "more_kinds": "yes"}))
    assert (more["shape"], more["group2-mats"], more["kind2-mats"]) == ("2 1", "6-9", "")
    assert (more["kind2-width_m"], more["kind2-times_a_year"]) == ("", "25-30")


def test_what_was_added_and_left_empty_is_left_out(keeper_client):
    blank = {"group2-mats": "", "group2-since": "", "group2-when": "", "kind2-times_a_year": "28"}
    given = {name: value for name, value in typed().items() if "kind2" not in name and "group2" not in name}
    assert tell(keeper_client, given | blank).status_code == 302
    assert Mat.objects.count() == 5


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"group2-mats": "5-9"}, "Named above already: 5. Leave them out here."),
        ({"group2-mats": "6 K9"}, "On record already: K9."),
        ({"kind2-mats": "K1 K2 spare"}, "“spare” cannot be read: put a note in brackets"),
        ({"kind2-mats": "all"}, "“all” cannot be read: write the numbers of all mats"),
        ({"group2-when": "summer"}, "“summer” can be any year"),
        ({"kind2-lengths_m": "0.5 1 2"}, "3 lengths for 4 cables"),
        ({"kind2-width_m": ""}, "1 answer below needs a second look"),
    ],
)
def test_what_is_wrong_in_any_of_them_is_said_there_and_all_stays(keeper_client, changed, said):
    make_mat("K9")
    given = typed(**changed)
    refused = keeper_client.post(URL, given)
    assert refused.status_code == 422
    assert said in text_of(refused)
    kept = form_in(refused)
    assert {name: kept[name] for name in given if name != "band"} == {n: v for n, v in given.items() if n != "band"}
    assert Mat.objects.count() == 1


def test_one_bad_length_is_no_reproach_for_questions_not_answered_yet(keeper_client):
    given = {"token": str(uuid.uuid4()), "width_m": "", "cables": "8", "lengths_m": "0.5 x", "propose": "1"}
    answer = keeper_client.post(URL, given)
    assert answer.status_code == 422
    assert answer.content.decode().count('class="field-error"') == 1
    assert "“x” is not a number" in text_of(answer)
    assert form_in(answer)["lengths_m"] == "0.5 x"


def test_the_same_build_in_a_later_run_is_the_same_design(keeper_client):
    """Runs of before made “4 m, 8 cables (2)” of the same four answers with another date."""
    one_kind = {name: value for name, value in SEASON.items() if "kind2" not in name and "group2" not in name}
    for mats, when in (("1-5", "spring 2023"), ("6-9", "05/2024")):
        one_kind |= {"token": str(uuid.uuid4()), "mats": mats, "when": when, "shape": "1"}
        assert tell(keeper_client, one_kind).status_code == 302
    assert list(MatDesign.objects.values_list("code", flat=True)) == ["4 m, 8 cables"]
    assert set(Load.objects.values_list("source", flat=True)) == {"Start here"}


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"lengths_m": "0.5 4"}, "4 m, 8 cables"),
        ({"lengths_m": "0.5 4.5"}, "4 m, 8 cables (2)"),
        ({"width_m": "3"}, "3 m, 8 cables"),
        # measured, where the design only estimates
        ({"lengths_m": "0.5 1 1.5 2 2.5 3 3.5 4"}, "4 m, 8 cables (2)"),
    ],
)
def test_a_design_is_used_again_only_where_it_has_exactly_these_cables(keeper_client, changed, code):
    one_kind = {name: value for name, value in SEASON.items() if "kind2" not in name and "group2" not in name}
    tell(keeper_client, one_kind | {"token": str(uuid.uuid4())})
    tell(keeper_client, one_kind | {"token": str(uuid.uuid4()), "mats": "21", "shape": "1"} | changed)
    assert Mat.objects.get(number="21").design.code == code


def test_a_withdrawn_design_is_not_used_again(keeper_client, today):
    tell(keeper_client, typed())
    MatDesign.objects.update(withdrawn_on=today)
    one_kind = {name: value for name, value in SEASON.items() if "kind2" not in name and "group2" not in name}
    tell(keeper_client, one_kind | {"token": str(uuid.uuid4()), "mats": "21", "shape": "1"})
    assert Mat.objects.get(number="21").design.code == "4 m, 8 cables (2)"


def test_the_next_run_begins_with_what_the_last_one_said_of_the_mats(keeper_client):
    one_kind = {name: value for name, value in SEASON.items() if "kind2" not in name and "group2" not in name}
    tell(keeper_client, one_kind | {"token": str(uuid.uuid4())})
    form = form_in(keeper_client.get(URL))
    assert (form["width_m"], form["cables"], form["lengths_m"]) == ("4", "8", "0.5 1 1.5 2 2.5 3 3.5 4")
    assert (form["times_a_year"], form["mats"], form["when"]) == ("28", "", "")
    tell(keeper_client, form | {"mats": "21", "since": "not known"})
    assert Mat.objects.get(number="21").design.code == "4 m, 8 cables"


def test_mats_added_meanwhile_by_somebody_else_are_named_and_all_stays(keeper_client):
    understood = form_in(keeper_client.post(URL, typed()))
    make_mat("7")
    refused = keeper_client.post(URL, understood)
    assert refused.status_code == 422
    assert "On record already: 7." in text_of(refused)
    assert form_in(refused)["kind2-mats"] == SEASON["kind2-mats"]


def test_what_was_shown_is_what_is_stored(keeper_client):
    """Changed answers with the mark of others are shown first."""
    understood = form_in(keeper_client.post(URL, typed()))
    again = keeper_client.post(URL, understood | {"mats": "1-4"})
    assert again.status_code == 200
    assert "13 mats" in text_of(again)
    assert not Mat.objects.exists()


def test_sent_twice_it_acts_once_and_leads_to_the_same_page(keeper_client):
    understood = form_in(keeper_client.post(URL, typed()))
    first, second = keeper_client.post(URL, understood), keeper_client.post(URL, understood)
    assert first.url == second.url == "/start/answer/"
    assert (Mat.objects.count(), Load.objects.count()) == (14, 1)


@pytest.mark.parametrize("shape", ["99 99 99 99 99 99 99 99 99 99 99 99 99", "x", "-1", "0", "1" * 400])
def test_a_shape_that_no_page_sends_is_no_error(keeper_client, shape):
    assert keeper_client.post(URL, typed(shape=shape)).status_code in (200, 422)
    for act in ("propose", "more_groups", "more_kinds", "back"):
        assert keeper_client.post(URL, typed(shape=shape) | {act: "99"}).status_code in (200, 422)
    assert not Mat.objects.exists()


def test_an_unusual_value_is_asked_about_with_the_mats(keeper_client):
    shown = keeper_client.post(URL, typed(**{"kind2-width_m": "25"}))
    assert "Kind 2: Width of a mat in m: 25." in text_of(shown)
    form = form_in(shown)
    asked = keeper_client.post(URL, form)
    assert asked.status_code == 422
    assert not Mat.objects.exists()
    tick = asked.content.decode().partition('name="confirmed" value="')[2].partition('"')[0]
    assert keeper_client.post(URL, form | {"confirmed": tick}).status_code == 302
