"""One week of each depot as a page of paper: days, mats, and the cables to have ready."""

from collections import Counter
from dataclasses import dataclass

from .plan_selectors import DepotPlan, WeekPlan


@dataclass(frozen=True)
class WeekPage:
    """`needed`: {(cable type, length in m): cables} of the mats that are begun in it; without those of dated orders,
    whose sheets name them.
    """

    plan: DepotPlan
    week: WeekPlan
    needed: dict

    @property
    def late(self):
        """Not ready for an event that begins by the end of the next week."""
        return [work for work in self.plan.late if (work.event.starts_on - self.week.monday).days < 14]


def first_monday(plans):
    """Of the first week in which there is work on the table; None where there is none."""
    return min((week.monday for plan in plans for week in plan.weeks if week.works), default=None)


def week_pages(plans, monday):
    """A WeekPage of each depot with work in that week, or with a mat that will not be ready."""
    pages = [WeekPage(plan, week := plan.week(monday), _needed(week)) for plan in plans]
    return [page for page in pages if page.week.works or page.late]


def _needed(week):
    begun = [work for work in week.works if week.monday <= work.first_day <= week.sunday]
    kinds = Counter((row.segment.cable_type.name, row.segment.length_m) for work in begun for row in work.rows)
    return dict(sorted(kinds.items()))
