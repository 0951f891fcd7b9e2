"""Setting the policy: who, when and why are kept, and what rests on a value is assessed again."""

import time

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_depot, make_design, make_mat, make_segment, set_policy_value

from inspections.assessment import services
from inspections.assessment.policy_in_force import current_policy
from inspections.assessment.runs import start_run, work_through
from inspections.assessment.services import reassess
from inspections.models import Assessment, AssessmentRun, PolicyValue
from inspections.policy.selectors import policy_trail
from inspections.policy.services import PolicyChange, change_policy

pytestmark = pytest.mark.django_db


def changes_shown():
    return [
        (entry.what, *(f"{c.old} → {c.new}" for c in entry.changes), entry.who, entry.reason)
        for entry in policy_trail()
    ]


def test_every_change_is_kept_from_the_default_on(keeper, on):
    set_policy_value("age_limit_years", 4, by=keeper, on=on, reason="longer seasons")
    set_policy_value("age_limit_years", 2, by=keeper, on=on, reason="salt")
    set_policy_value("age_limit_years", None, by=keeper, on=on, reason="back to the usual")
    set_policy_value("age_limit_years", 5, by=keeper, on=on)
    what = "Age limit of the pool"
    assert changes_shown() == [
        (what, "3 years, the default → 5 years", "keeper", ""),
        (what, "2 years → 3 years, the default", "keeper", "back to the usual"),
        (what, "4 years → 2 years", "keeper", "salt"),
        (what, "3 years, the default → 4 years", "keeper", "longer seasons"),
    ]
    assert current_policy().value("age_limit_years") == 5


def test_the_value_of_a_design_is_cleared_and_the_pools_stands_again(keeper, on):
    design = make_design("wide")
    set_policy_value("accepted_risk", 0.02, design=design, by=keeper, on=on)
    assert current_policy().value("accepted_risk", design_id=design.pk) == 0.02
    set_policy_value("accepted_risk", None, design=design, by=keeper, on=on)
    assert current_policy().value("accepted_risk", design_id=design.pk) == 0.05
    assert [shown[1] for shown in changes_shown()] == ["2 % → as the pool", "as the pool → 2 %"]


def test_the_narrowest_value_holds_beside_one_of_the_pool(keeper, on):
    quay, mill, design = make_depot("Quay"), make_depot("Mill"), make_design()
    set_policy_value("has_bench", 0, by=keeper, on=on)
    set_policy_value("has_bench", 1, depot=quay, by=keeper, on=on)
    set_policy_value("event_limit", 90, by=keeper, on=on)
    set_policy_value("event_limit", 80, design=design, by=keeper, on=on)
    set_policy_value("event_limit", 70, design=design, position=1, by=keeper, on=on)
    policy = current_policy()
    assert [policy.has_bench(depot) for depot in (quay.pk, mill.pk, None)] == [True, False, False]
    assert [policy.value("event_limit", design.pk, position=number) for number in (1, 2)] == [70, 80]
    assert policy.value("event_limit", position=1) == policy.value("event_limit") == 90


def test_a_change_of_a_position_says_which_and_from_what(keeper, on):
    design = make_design("4 m", lengths_m=(1.0, 3.5))
    set_policy_value("age_limit_years", 1.5, design=design, position=2, by=keeper, on=on, reason="long")
    set_policy_value("age_limit_years", 0, design=design, position=2, by=keeper, on=on)
    set_policy_value("age_limit_years", None, design=design, position=2, by=keeper, on=on)
    what = "Age limit of position 2 of 4 m"
    assert changes_shown() == [
        (what, "no limit → as the design", "keeper", ""),
        (what, "1 year 6 months → no limit", "keeper", ""),
        (what, "as the design → 1 year 6 months", "keeper", "long"),
    ]


def test_the_values_of_a_design_and_of_its_position_stand_beside_each_other(keeper, on):
    design = make_design(lengths_m=(1.0, 3.5))
    set_policy_value("age_limit_years", 1.5, design=design, position=2, by=keeper, on=on)
    set_policy_value("age_limit_years", 5, design=design, by=keeper, on=on)
    set_policy_value("age_limit_years", None, design=design, by=keeper, on=on)
    policy = current_policy()
    assert [policy.value("age_limit_years", design.pk, position=number) for number in (1, 2)] == [3, 1.5]


def test_a_change_of_a_position_assesses_the_cables_that_are_in_it_and_no_other(keeper, on):
    mat, other = make_mat(fitted=True), make_mat(fitted=True)
    reassess(None, on=on)
    Assessment.objects.update(event_limit=1)
    set_policy_value("event_limit", 7, design=mat.design, position=3, by=keeper, on=on)
    assert dict(Assessment.objects.filter(mat=mat).values_list("position", "event_limit")) == {1: 1, 2: 1, 3: 7, 4: 1}
    assert set(Assessment.objects.filter(mat=other).values_list("event_limit", flat=True)) == {1}


@pytest.mark.parametrize(
    ("setting", "value", "position", "says"),
    [
        ("loss_limit_db", 2, 1, "Loss limit is one value for all positions of a design"),
        ("event_limit", 7, 5, "Event limit: 4 m has no position 5"),
        ("age_limit_years", 0.05, 1, "Age limit: write a number from 1/12"),
    ],
)
def test_a_position_takes_only_limits_of_its_own_and_must_be_there(setting, value, position, says, keeper, on):
    with pytest.raises(ValidationError, match=says):
        set_policy_value(setting, value, design=make_design("4 m"), position=position, by=keeper, on=on)
    assert not PolicyValue.objects.exists()


def test_a_position_belongs_to_a_design(keeper, on):
    with pytest.raises(ValidationError, match="the pool has no position 1"):
        set_policy_value("event_limit", 7, position=1, by=keeper, on=on)


def test_the_value_of_a_position_that_is_deleted_holds_for_nothing_until_it_is_back(keeper, on):
    design = make_design(lengths_m=(1.0, 3.5))
    set_policy_value("event_limit", 7, design=design, position=2, by=keeper, on=on)
    position = design.positions.get(number=2)
    design.positions.filter(number=2).delete()
    assert current_policy().value("event_limit", design.pk, position=2) == 150
    position.pk, position._state.adding = None, True
    position.save()
    assert current_policy().value("event_limit", design.pk, position=2) == 7


def test_what_somebody_else_set_for_the_position_meanwhile_is_refused(keeper, on):
    design = make_design("4 m")
    set_policy_value("event_limit", 100, design=design, position=2, by=keeper, on=on)
    with pytest.raises(ValidationError, match="Event limit of position 2 of 4 m: somebody else changed it meanwhile"):
        set_policy_value("event_limit", 7, design=design, position=2, by=keeper, on=on, seen_version=0)


def test_a_change_of_the_pool_assesses_every_cable_again(keeper, on):
    mats = [make_mat(fitted=True), make_mat(fitted=True)]
    reassess(None, on=on)
    set_policy_value("event_limit", 7, by=keeper, on=on)
    assert set(Assessment.objects.values_list("mat", "event_limit")) == {(mat.pk, 7) for mat in mats}


def test_a_change_of_a_design_or_depot_reaches_its_own_cables(keeper, on):
    depot = make_depot()
    strict, plain, far = make_mat(fitted=True), make_mat(fitted=True), make_mat(fitted=True, depot=depot)
    reassess(None, on=on)
    change_policy(
        [PolicyChange("event_limit", 7, design=strict.design), PolicyChange("has_bench", 0, depot=depot)],
        by=keeper,
        on=on,
    )
    limits = dict(Assessment.objects.values_list("mat", "event_limit"))
    asking = dict(Assessment.objects.values_list("mat", "measure_reason"))
    assert limits == {strict.pk: 7, plain.pk: 150, far.pk: 150}
    assert asking == {strict.pk: "never measured", plain.pk: "never measured", far.pk: ""}


def test_one_refused_value_changes_none(keeper, on):
    changes = [PolicyChange("event_limit", 7), PolicyChange("loss_limit_db", 99)]
    with pytest.raises(ValidationError, match=r"Loss limit: write a number from 0\.1 to 20"):
        change_policy(changes, by=keeper, on=on)
    assert not PolicyValue.objects.exists()


@pytest.mark.parametrize("setting", ["look_ahead_days", "has_bench"])
def test_a_setting_of_the_whole_pool_has_no_value_of_a_design(setting, keeper, on):
    with pytest.raises(ValidationError, match="is one value for the whole pool"):
        set_policy_value(setting, 1, design=make_design(), by=keeper, on=on)


def test_what_somebody_else_changed_meanwhile_is_refused(keeper, on):
    set_policy_value("event_limit", 100, by=keeper, on=on)
    for seen_version in (0, 2):
        with pytest.raises(ValidationError, match="Event limit of the pool: somebody else changed it meanwhile"):
            set_policy_value("event_limit", 7, by=keeper, on=on, seen_version=seen_version)
    set_policy_value("event_limit", 7, by=keeper, on=on, seen_version=1)
    assert current_policy().value("event_limit") == 7


def spoil_the_records(design):
    """A value that no page and no file lets in: months that no calendar holds, so that assessing breaks off."""
    PolicyValue.objects.create(setting="measure_again_months", design=design, value=1e300)


def test_where_assessing_fails_the_old_value_stands(keeper, on):
    spoil_the_records(make_mat(fitted=True).design)
    with pytest.raises(OverflowError):
        set_policy_value("event_limit", 7, by=keeper, on=on)
    assert current_policy().value("event_limit") == 150


def test_a_large_pool_is_assessed_beside_the_request_and_nothing_counts_as_up_to_date_until_then(keeper, on, settings):
    settings.ASSESS_AT_ONCE = 3
    make_mat(fitted=True)
    services.assess_pool(on)
    run = set_policy_value("event_limit", 7, by=keeper, on=on)
    assert (run.stage, run.segments) == ("waiting", 4)
    assert set(Assessment.objects.values_list("event_limit", flat=True)) == {150}
    services.ensure_assessed(on)
    assert set(Assessment.objects.values_list("event_limit", flat=True)) == {7}
    work_through(run.pk)
    run.refresh_from_db()
    assert (run.stage, run.segments, run.finished_at is None) == ("done", 4, False)


def test_a_run_that_fails_says_so_and_leaves_the_old_assessments(keeper, on):
    mat = make_mat(fitted=True)
    services.assess_pool(on)
    run = start_run(by=keeper, on=on)
    spoil_the_records(mat.design)
    work_through(run.pk)
    run.refresh_from_db()
    assert (run.stage, run.failure_reason.split(":")[0]) == ("failed", "OverflowError")
    assert Assessment.objects.count() == 4


@pytest.mark.django_db(transaction=True)
def test_the_run_begins_by_itself_once_the_change_is_stored(keeper, on, settings):
    settings.ASSESS_AT_ONCE = 0
    fit(make_segment(), make_mat())
    services.assess_pool(on)
    run = set_policy_value("event_limit", 7, by=keeper, on=on)
    for _ in range(200):
        if AssessmentRun.objects.get(pk=run.pk).finished_at:
            break
        time.sleep(0.05)
    assert AssessmentRun.objects.get(pk=run.pk).stage == "done"
    assert list(Assessment.objects.values_list("event_limit", flat=True)) == [7]
