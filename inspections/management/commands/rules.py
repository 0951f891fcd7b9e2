import csv
import json
from argparse import ArgumentTypeError
from datetime import date

from django.utils import timezone

from fleet.intake.kinds import guarded
from inspections.assessment.services import assess_what_lies_ahead
from inspections.length_limits.report_services import rules_report
from inspections.management.pool_command import PoolCommand
from inspections.management.rules_text import costs_in_text, limits_in_text, played_in_text
from inspections.rule_cost.day_services import rules_of_day
from inspections.rule_cost.report_services import costs_report
from inspections.rule_trial.report_services import simulated_report

COLUMNS = (
    *("design", "position", "length_m", "accepted_risk", "age_limit_years", "age_limit_low", "age_limit_high"),
    *("event_limit", "event_limit_low", "event_limit_high", "today_share_over", "today_life_left", "falls"),
)
NOT_IN_CSV = "These are the limits by length. Played rules and what they cost: --format text, or json."


class Command(PoolCommand):
    help = (
        "Print the limits that the pool's own history says, by length, beside what today's limits do; rules played "
        "against each other; and what they cost (csv: the limits alone)."
    )

    def add_arguments(self, parser):
        parser.add_argument("--on", type=a_day, help="the day to ask for (default: today)")
        parser.add_argument("--format", choices=("text", "csv", "json"), default="text")

    def handle(self, *, on=None, format="text", **options):
        today = timezone.localdate()
        assess_what_lies_ahead(today)
        getattr(self, f"write_{format}")(rules_of_day(on or today, today))

    def write_json(self, day):
        report = rules_report(day.on, day.own, day.other)
        report |= {"simulated": simulated_report(day.trial), "costs": costs_report(day.costs)}
        self.stdout.write(json.dumps(report, indent=1, ensure_ascii=False))

    def write_csv(self, day):
        writer = csv.DictWriter(self.stdout, COLUMNS, lineterminator="\n")
        writer.writeheader()
        for row in rules_report(day.on, day.own, day.other)["rules"]:
            writer.writerow({name: guarded(v) if isinstance(v, str) else v for name, v in row.items()})
        self.stderr.write(NOT_IN_CSV)

    def write_text(self, day):
        """Rules take seconds to play: what is known before is shown before."""
        for part in (limits_in_text, costs_in_text, played_in_text):
            self.stdout.write("\n".join(part(day)))
            self.stdout.flush()


def a_day(text):
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is no day of the calendar. Write it like 2026-11-24.") from None
