"""The policy of one design and of its positions, so that long cables can be changed first."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_design, make_mat, set_policy_value
from page_forms import form_in
from page_words import words_in

from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.services import assess_pool
from inspections.models import PolicyValue

pytestmark = pytest.mark.django_db


@pytest.fixture
def design():
    return make_design("4 m", lengths_m=(1.0, 2.0, 2.5, 3.5))


def place_of(design):
    return f"/policy/designs/{design.code}/"


def sent(client, design, **typed):
    """The page's form with some fields changed: `position_2__age_limit_years` is that of position 2."""
    form = form_in(client.get(place_of(design)))
    return client.post(place_of(design), form | {_field(design, name): text for name, text in typed.items()})


def _field(design, name):
    place, _, setting = name.partition("__")
    if not setting:
        return name
    return f"design-{design.pk}{'' if place == 'own' else '-' + place.replace('_', '-')}.{setting}"


def words_of(answer):
    return words_in(answer.content.decode())


def age_limits(design):
    policy = current_policy()
    return [policy.value("age_limit_years", design.pk, position=number) for number in (1, 2, 3, 4)]


def test_a_position_has_an_age_limit_of_its_own(keeper_client, design):
    assert sent(keeper_client, design, position_4__age_limit_years="1 y 6 m", reason="long").status_code == 302
    assert age_limits(design) == [3, 3, 3, 1.5]
    words = words_of(keeper_client.get(place_of(design)))
    assert "Age limit of position 4 of 4 m: long as the design → 1 year 6 months" in words
    assert "1 position with limits of its own" in words_of(keeper_client.get("/policy/"))


def test_the_design_and_a_position_may_be_without_a_limit(keeper_client, design):
    sent(
        keeper_client,
        design,
        own__age_limit_years="no limit",
        position_1__event_limit="off",
        position_2__event_limit="0",
    )
    policy = current_policy()
    assert age_limits(design) == [0, 0, 0, 0]
    assert [policy.value("event_limit", design.pk, position=number) for number in (1, 2, 3)] == [0, 0, 150]
    form = form_in(keeper_client.get(place_of(design)))
    assert (form[_field(design, "own__age_limit_years")], form[_field(design, "position_2__event_limit")]) == (
        "no limit",
        "no limit",
    )


def test_what_a_field_shows_may_be_sent_again_and_changes_nothing(keeper_client, keeper, design, today):
    set_policy_value("age_limit_years", 2.3, design=design, position=1, by=keeper, on=today)
    form = form_in(keeper_client.get(place_of(design)))
    assert form[_field(design, "position_1__age_limit_years")] == "2 years 3 months"
    assert "Nothing was changed." in words_of(keeper_client.post(place_of(design), form))


def test_all_long_positions_are_filled_in_at_once_and_nothing_is_saved_yet(keeper_client, design):
    answer = sent(keeper_client, design, longer_than_m="2", age_limit_years="18 months", fill="yes")
    filled = form_in(answer)
    typed = [filled[_field(design, f"position_{number}__age_limit_years")] for number in (1, 2, 3, 4)]
    assert (answer.status_code, typed) == (200, ["", "", "18 months", "18 months"])
    assert "Age limit of position 4 of 4 m: 3 years → 1 year 6 months" in words_of(answer)
    assert not PolicyValue.objects.exists()
    assert keeper_client.post(place_of(design), filled).status_code == 302
    assert age_limits(design) == [3, 3, 1.5, 1.5]


def test_what_was_typed_elsewhere_stays_when_long_positions_are_filled_in(keeper_client, design):
    typed = {"position_1__event_limit": "90", "reason": "salt"}
    filled = form_in(sent(keeper_client, design, **typed, longer_than_m="3", event_limit="40", fill="yes"))
    assert {name: filled[_field(design, name)] for name in typed} == typed
    assert filled[_field(design, "position_4__event_limit")] == "40"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"longer_than_m": "", "age_limit_years": "2"}, "Write a length in m"),
        ({"longer_than_m": "much", "age_limit_years": "2"}, "Write a number, such as 1.5."),
        ({"longer_than_m": "3.5", "age_limit_years": "2"}, "No position is longer. The longest has 3.5 m."),
        ({"longer_than_m": "2", "age_limit_years": "soon"}, "Write years and months"),
        ({"longer_than_m": "2"}, "Write a limit for these positions"),
    ],
)
def test_what_cannot_be_filled_in_is_said_and_stays(typed, says, keeper_client, design):
    answer = sent(keeper_client, design, **typed, position_1__event_limit="90", fill="yes")
    assert answer.status_code == 422
    assert says in words_of(answer)
    assert form_in(answer).items() >= (typed | {_field(design, "position_1__event_limit"): "90"}).items()


def test_an_address_may_propose_values_and_what_would_change_is_shown(keeper_client, design, today):
    make_mat(design=design, fitted=True, fitted_on=today.replace(year=today.year - 4, day=1))
    assess_pool(today)
    own = f"design-{design.pk}.age_limit_years"
    answer = keeper_client.get(place_of(design), {own: "6 years", "longer_than_m": "2", "age_limit_years": "3 years"})
    assert "Of 4 cables, 4 are due now and 2 would be then." in words_of(answer)
    assert not PolicyValue.objects.exists()


@pytest.mark.parametrize("typed", ["0.05", "3 weeks", "41 years", "-1"])
def test_a_limit_below_a_month_or_beyond_all_ages_is_refused(typed, keeper_client, design):
    answer = sent(keeper_client, design, position_1__age_limit_years=typed)
    assert answer.status_code == 422
    assert form_in(answer)[_field(design, "position_1__age_limit_years")] == typed
    assert not PolicyValue.objects.exists()


def test_a_page_from_before_somebody_elses_change_is_refused(keeper_client, keeper, design, today):
    form = form_in(keeper_client.get(place_of(design)))
    set_policy_value("event_limit", 100, design=design, position=2, by=keeper, on=today)
    field = _field(design, "position_2__event_limit")
    late = keeper_client.post(place_of(design), form | {field: "7"})
    assert late.status_code == 422
    assert "Event limit of position 2 of 4 m: somebody else changed it meanwhile, to 100 events" in words_of(late)
    assert keeper_client.post(place_of(design), form_in(late)).status_code == 302
    assert current_policy().value("event_limit", design.pk, position=2) == 7


def test_everybody_reads_it_and_only_the_keeper_sets_it(visitor_client, bench_client, design):
    for client in (visitor_client, bench_client):
        page = client.get(place_of(design), {f"design-{design.pk}.event_limit": "7", "longer_than_m": "2"})
        assert "150 events" in words_of(page)
        assert "Save the policy" not in words_of(page)
        for act in ("preview", "fill", "save"):
            assert client.post(place_of(design), {act: "yes", "longer_than_m": "2"}).status_code == 403
    assert not PolicyValue.objects.exists()


def test_a_code_with_signs_of_addresses_in_it_leads_back_to_its_own_page(keeper_client):
    design = make_design("wide? #2")
    address = reverse("inspections:policy-design", args=[design.code])
    form = form_in(keeper_client.get(address))
    answer = keeper_client.post(address, form | {_field(design, "own__event_limit"): "7"}, follow=True)
    assert (answer.status_code, answer.redirect_chain) == (200, [(address, 302)])


def test_a_design_that_is_not_there_has_no_page(keeper_client):
    assert keeper_client.get("/policy/designs/none-such/").status_code == 404


def test_the_page_takes_the_same_queries_for_2_and_40_positions(keeper_client, keeper, today):
    counts = []
    for positions in (2, 40):
        design = make_design(lengths_m=[1.0] * positions)
        for number in range(1, positions + 1):
            PolicyValue.objects.create(setting="event_limit", value=7, design=design, position=number)
        with CaptureQueriesContext(connection) as caught:
            keeper_client.get(place_of(design))
        counts.append(len(caught))
    assert counts[0] == counts[1]
