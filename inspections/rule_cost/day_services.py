"""All that is told of the rules of a day, from one reading of the records: limits, played rules, costs."""

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from ..length_limits.services import LimitsOfDay, PoolLimits, limits_of_day, pool_limits
from ..numeric.words import Clock
from ..rule_trial.question_services import trial_of_day
from .services import rule_costs

OTHER = {Clock.YEARS: Clock.EVENTS, Clock.EVENTS: Clock.YEARS}


@dataclass(frozen=True)
class RulesOfDay:
    """As of `on`; `known` by the keeper's clock, `other`: PoolLimits by the other one."""

    on: date
    today: date
    known: LimitsOfDay
    other: PoolLimits

    @property
    def own(self):
        return self.known.own

    @cached_property
    def trial(self):
        return trial_of_day(self.on, self.today, known=self.known)

    @cached_property
    def costs(self):
        return rule_costs(self.on, self.today, self.known)


def rules_of_day(on, today):
    """RulesOfDay as of `on`; `today` is the day of the clock on the wall."""
    known = limits_of_day(on, today)
    return RulesOfDay(on, today, known, pool_limits(on, today, OTHER[known.own.clock], known.cables))
