"""The policy page: read by everybody, set by the keeper, each change with its trail."""

import re
import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_depot, make_design, make_mat, set_policy_value
from page_words import words_in

from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.services import assess_pool
from inspections.choices import SETTINGS, SetOn
from inspections.models import Assessment, AssessmentRun, PolicyValue
from inspections.policy.selectors import shown

pytestmark = pytest.mark.django_db
POLICY = "/policy/"


def form_on(page, **changes):
    """What a browser would send back from the page, with some fields changed."""
    text = page.content.decode()
    form = dict.fromkeys(re.findall(r'<input[^>]*\bname="([^"]+)"', text), "")
    form |= dict(re.findall(r'<input[^>]*\bname="([^"]+)"[^>]*\bvalue="([^"]*)"', text))
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', text, re.DOTALL):
        form[name] = re.search(r'value="([^"]*)" selected', options).group(1)
    return form | {name.replace("__", "."): value for name, value in changes.items()}


def save(client, **changes):
    return client.post(POLICY, form_on(client.get(POLICY), **changes), follow=True)


def words_of(answer):
    return words_in(answer.content.decode())


def test_a_value_is_changed_with_the_reason_and_the_trail_is_shown(keeper_client, today):
    mat = make_mat(fitted=True)
    assess_pool(today)
    answer = save(keeper_client, pool__event_limit="120", reason="two seasons a year")
    assert current_policy().value("event_limit") == 120
    assert set(Assessment.objects.filter(mat=mat).values_list("event_limit", flat=True)) == {120}
    words = words_of(answer)
    assert "One value is changed, and what depends on it is assessed again." in words
    assert "Event limit of the pool: two seasons a year 150 events, the default → 120 events" in words


def test_every_default_with_a_number_says_where_it_comes_from(visitor_client):
    words = words_of(visitor_client.get(POLICY))
    for setting in SETTINGS.values():
        assert (
            setting.yes_no
            or setting.set_on != SetOn.LIMITS
            or f"default {shown(setting, setting.default)} ({setting.basis})" in words
        )
    assert "default 3 years (common practice for weekly use)" in words


def test_a_setting_that_is_no_more_is_kept_and_harms_nothing(keeper_client, keeper):
    PolicyValue.objects.create(setting="detection_goal", value=0.99, recorded_by=keeper)
    answer = save(keeper_client, pool__event_limit="120")
    assert "One value is changed" in words_of(answer)
    assert "etection" not in words_of(answer)
    assert PolicyValue.objects.filter(setting="detection_goal", value=0.99, cleared_on=None).exists()


def test_what_was_not_touched_is_not_stored(keeper_client):
    make_design()
    answer = save(keeper_client)
    assert (answer.status_code, "Nothing was changed." in answer.content.decode()) == (422, True)
    assert not PolicyValue.objects.exists()


def test_one_is_told_in_the_singular(keeper_client):
    words = words_of(save(keeper_client, pool__age_limit_years="1"))
    assert "3 years, the default → 1 year " in words


@pytest.mark.parametrize("typed", ["7.5", "7,5", "7.5 %", " 7,5% "])
def test_a_share_is_typed_in_per_cent(typed, keeper_client):
    save(keeper_client, pool__accepted_risk=typed)
    assert current_policy().value("accepted_risk") == 0.075


@pytest.mark.parametrize(
    ("typed", "years"),
    [("2 years 6 months", 2.5), ("2.5", 2.5), ("18 months", 1.5), ("1 y 3 m", 1.25), ("2,3", 2.25), ("no limit", 0)],
)
def test_the_age_limit_is_typed_in_years_and_months(typed, years, keeper_client):
    save(keeper_client, pool__age_limit_years=typed)
    assert current_policy().value("age_limit_years") == years


@pytest.mark.parametrize("typed", ["no limit", "off", "0", "-0", "None"])
def test_a_limit_is_switched_off_and_shown_as_no_limit(typed, keeper_client, today):
    mat = make_mat(fitted=True)
    answer = save(keeper_client, pool__event_limit=typed)
    assert "Event limit of the pool 150 events, the default → no limit" in words_of(answer)
    assert 'value="no limit"' in answer.content.decode()
    assert str(PolicyValue.objects.get().value) == "0.0"
    assert set(Assessment.objects.filter(mat=mat).values_list("event_limit", flat=True)) == {None}


def test_what_would_change_is_shown_before_it_is_saved(keeper_client, today):
    make_mat(fitted=True, fitted_on=today.replace(year=today.year - 4, day=1))
    answer = save(keeper_client, pool__age_limit_years="6 years", reason="few outings", preview="yes")
    words = words_of(answer)
    assert answer.status_code == 200
    assert "Not saved yet. Of 4 cables, 4 are due now and 0 would be then." in words
    assert "Age limit of the pool: 3 years → 6 years" in words
    assert not PolicyValue.objects.exists()
    kept = form_on(answer)
    assert (kept["pool.age_limit_years"], kept["reason"]) == ("6 years", "few outings")
    assert keeper_client.post(POLICY, kept).status_code == 302
    assert current_policy().value("age_limit_years") == 6


def test_a_wrong_value_is_named_where_somebody_asks_what_would_change(keeper_client):
    answer = save(keeper_client, pool__age_limit_years="soon", preview="yes")
    assert (answer.status_code, "Write years and months" in words_of(answer)) == (422, True)


def test_an_address_may_propose_a_value_which_only_the_keeper_sees(keeper_client, visitor_client):
    for client, said in ((keeper_client, True), (visitor_client, False)):
        words = words_of(client.get(POLICY, {"pool.own_readings_decide": "1", "pool.colour": "red"}))
        assert ("Own readings decide of the pool: no → yes" in words) == said
    assert not PolicyValue.objects.exists()


def test_a_value_of_a_position_is_not_taken_for_its_designs(keeper_client, keeper, today):
    design = make_design("wide")
    set_policy_value("event_limit", 7, design=design, position=1, by=keeper, on=today)
    form = form_on(keeper_client.get(POLICY))
    assert form[f"design-{design.pk}.event_limit"] == ""


def test_an_emptied_field_of_the_pool_goes_back_to_the_default(keeper_client):
    save(keeper_client, pool__loss_limit_db="2,5")
    assert current_policy().value("loss_limit_db") == 2.5
    save(keeper_client, pool__loss_limit_db="")
    assert (current_policy().value("loss_limit_db"), PolicyValue.objects.count()) == (3.0, 1)


def test_a_design_and_a_depot_have_their_own_values(keeper_client):
    design, depot = make_design("wide"), make_depot("Hangar 2")
    fields = {f"design-{design.pk}__loss_limit_db": "2.5", f"depot-{depot.pk}__has_bench": "0"}
    save(keeper_client, **fields)
    policy = current_policy()
    assert (policy.value("loss_limit_db", design_id=design.pk), policy.value("loss_limit_db")) == (2.5, 3.0)
    assert (policy.has_bench(depot.pk), policy.has_bench(None)) == (False, True)
    answer = save(keeper_client, **{f"depot-{depot.pk}__has_bench": ""})
    assert current_policy().has_bench(depot.pk)
    assert "no → as the pool" in words_of(answer)


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("pool__age_limit_years", "0.05", "Age limit: write a number from 1/12 (one month) to 40, or 0 for no limit."),
        ("pool__event_limit", "2.5", "Event limit: write a whole number."),
        ("pool__age_limit_years", "soon", "Write years and months, such as 2 years 6 months"),
        ("pool__event_limit", "some", "Write a whole number, such as 150, or “no limit”."),
        ("pool__loss_limit_db", "nan", "Write a number, such as 1.5."),
        ("pool__accepted_risk", "60", "Write 0.01 to 50 %."),
        ("pool__accepted_risk", "little", "Write a percentage, such as 5."),
        ("pool__accepted_risk", "nan", "Write 0.01 to 50 %."),
        ("pool__accepted_risk", "1e999999999", "Write a percentage, such as 5."),
        ("pool__has_bench", "2", "Choose one of the values that are offered."),
    ],
)
def test_a_wrong_value_is_named_and_everything_typed_stays(field, typed, says, keeper_client):
    answer = save(keeper_client, **{field: typed, "pool__look_ahead_days": "45"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert re.search(r'name="pool\.look_ahead_days" value="45"', page)
    assert not PolicyValue.objects.exists()


def test_a_page_from_before_somebody_elses_change_is_refused(keeper_client, keeper, today):
    opened = keeper_client.get(POLICY)
    set_policy_value("event_limit", 100, by=keeper, on=today)
    answer = keeper_client.post(POLICY, form_on(opened, pool__event_limit="120"))
    assert answer.status_code == 422
    assert "somebody else changed it meanwhile" in answer.content.decode()
    assert current_policy().value("event_limit") == 100


def test_it_names_what_was_changed_and_can_be_sent_again_knowingly(keeper_client, keeper, today):
    opened = keeper_client.get(POLICY)
    for setting, value in (("event_limit", 100), ("look_ahead_days", 20)):
        set_policy_value(setting, value, by=keeper, on=today)
    late = keeper_client.post(POLICY, form_on(opened, pool__event_limit="120", reason="two <seasons>"))
    for said in ("Event limit of the pool", "to 100 events", "Look-ahead of the pool", "to 20 days", "two &lt;seasons"):
        assert said in late.content.decode()
    assert keeper_client.post(POLICY, form_on(late, pool__look_ahead_days="20")).status_code == 302
    assert [current_policy().value(name) for name in ("event_limit", "look_ahead_days")] == [120, 20]


def test_a_value_left_as_it_was_does_not_undo_somebody_elses_change(keeper_client, keeper, today):
    opened = keeper_client.get(POLICY)
    set_policy_value("event_limit", 100, by=keeper, on=today)
    keeper_client.post(POLICY, form_on(opened, pool__look_ahead_days="45"))
    assert current_policy().value("event_limit") == 100


def test_everybody_reads_the_policy_and_only_the_keeper_sets_it(visitor_client, bench_client):
    make_design()
    for client in (visitor_client, bench_client):
        page = client.get(POLICY).content.decode()
        assert "150 events" in page
        assert "Save the policy" not in page
        assert client.post(POLICY, {"pool.event_limit": "7"}).status_code == 403
        assert client.post("/policy/assessing/").status_code == 403
    assert not PolicyValue.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_large_pool_shows_how_far_it_is_until_it_is_done(keeper_client, today, settings):
    settings.ASSESS_AT_ONCE = 3
    make_mat(fitted=True)
    assess_pool(today)
    first = save(keeper_client, pool__event_limit="7")
    run = AssessmentRun.objects.get()
    progress = reverse("inspections:policy-progress", args=[run.pk])
    assert first.redirect_chain == [(progress, 302)]
    for _ in range(200):
        fragment = keeper_client.get(progress, headers={"HX-Request": "true"}).content.decode()
        if "hx-get" not in fragment:
            break
        time.sleep(0.05)
    assert "Done: 4 cables assessed" in fragment
    assert "<html" not in fragment
    assert set(Assessment.objects.values_list("event_limit", flat=True)) == {7}


def test_without_scripts_the_progress_page_loads_itself_again_until_it_is_done(keeper_client, today):
    run = AssessmentRun.objects.create(assessed_on=today, segments=4, stage="reading")
    page = keeper_client.get(reverse("inspections:policy-progress", args=[run.pk])).content.decode()
    assert '<noscript><meta http-equiv="refresh" content="2"></noscript>' in page
    assert "Step 2 of 3" in page
    AssessmentRun.objects.update(stage="failed", finished_at=run.started_at, failure_reason="OverflowError: too old")
    page = keeper_client.get(reverse("inspections:policy-progress", args=[run.pk])).content.decode()
    assert "http-equiv" not in page
    assert "could not be assessed" in page and "OverflowError: too old" in page


def test_the_page_takes_the_same_queries_for_1_3_and_50_designs(keeper_client, keeper, today):
    counts = []
    for more in (1, 2, 47):
        for _ in range(more):
            set_policy_value("event_limit", 7, design=make_design(), by=keeper, on=today)
            set_policy_value("has_bench", 0, depot=make_depot(), by=keeper, on=today)
        keeper_client.get(POLICY)
        with CaptureQueriesContext(connection) as caught:
            keeper_client.get(POLICY)
        counts.append(len(caught))
    assert counts[0] == counts[1] == counts[2]
