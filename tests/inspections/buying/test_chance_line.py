"""How many more than the dated ones: of the cables without a date, by the trend of the pool as it is assessed."""

from datetime import date

import pytest
from worn_pools import make_pool

from inspections.assessment.services import assess_pool
from inspections.buying.chance_services import more_by_chance
from inspections.buying.plan_selectors import purchase_plan
from inspections.due.selectors import count_assessed
from inspections.models import Assessment, PolicyValue
from inspections.numeric.counts_by_chance import count_interval
from inspections.templatetags.buying_text import more_in_words

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


def test_the_line_counts_cables_without_a_date_by_their_chance_when_the_twelve_months_end():
    """Limits of age and events are off, and half is tolerated: what has no date may well be over by then."""
    for setting, value in (("age_limit_years", 0), ("event_limit", 0), ("accepted_risk", 0.5)):
        PolicyValue.objects.create(setting=setting, value=value)
    make_pool(mats=6, rate_db=0.262)
    assess_pool(ON)
    plan = purchase_plan(ON)
    more = more_by_chance(plan, count_assessed())
    assert plan.segments and more.most > 0 and more.unknown == 0
    assert more.cables + len(plan.segments) == 24
    assess_pool(plan.until)
    then = Assessment.objects.exclude(segment__in=plan.segments).values_list("chance_over", flat=True)
    assert (more.least, more.most) == count_interval(list(then), 0.9)
    assert more_in_words(more, plan).startswith(f"{len(plan.segments)} cables dated, {more.least} to {more.most} more")


def test_a_pool_without_readings_has_no_such_line():
    assess_pool(ON)
    assert more_by_chance(purchase_plan(ON), count_assessed()) is None
