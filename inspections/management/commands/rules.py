import csv
import json
from datetime import date

from django.utils import timezone

from fleet.intake.kinds import guarded
from inspections.assessment.services import assess_what_lies_ahead
from inspections.length_limits.report_services import rules_report
from inspections.management.pool_command import PoolCommand
from inspections.rule_cost.report_services import costs_report
from inspections.rule_trial.report_services import simulated_report

COLUMNS = (
    *("design", "position", "length_m", "accepted_risk", "age_limit_years", "age_limit_low", "age_limit_high"),
    *("event_limit", "event_limit_low", "event_limit_high", "today_share_over", "today_life_left"),
)


class Command(PoolCommand):
    help = "Print the limits that the pool's own history says, by length, beside what today's limits do."

    def add_arguments(self, parser):
        parser.add_argument("--on", type=date.fromisoformat, help="the day to ask for (default: today)")
        parser.add_argument("--format", choices=("text", "csv", "json"), default="text")

    def handle(self, *, on=None, format="text", **options):
        today = timezone.localdate()
        assess_what_lies_ahead(today)
        report = rules_report(on or today, today)
        if format == "json":
            report["simulated"] = simulated_report(on or today, today)
            report["costs"] = costs_report(on or today, today)
        getattr(self, f"write_{format}")(report)

    def write_json(self, report):
        self.stdout.write(json.dumps(report, indent=1, ensure_ascii=False))

    def write_csv(self, report):
        writer = csv.DictWriter(self.stdout, COLUMNS, lineterminator="\n")
        writer.writeheader()
        for row in report["rules"]:
            writer.writerow({name: guarded(v) if isinstance(v, str) else v for name, v in row.items()})

    def write_text(self, report):
        watched = report["watched_until_years"]
        self.stdout.write(f"As of {report['on']}, by the trend of this pool's readings. {_watched(watched)}")
        if not report["rules"]:
            self.stdout.write("There is no trend of the pool yet, so no limit can be told.")
        for row in report["rules"]:
            where = f"{row['design']} position {row['position']}"
            self.stdout.write(f"{where:28} {row['length_m']:6.2f} m  {_age(row)}{_events(row)}  {_today(row)}".rstrip())


def _watched(years):
    return f"No cable was watched beyond {years:.1f} years." if years else "No cable was watched yet."


def _age(row):
    risk, age = f"{row['accepted_risk']:.3g} over", row["age_limit_years"]
    if age is None:
        return f"{risk}: not within 40 years"
    low, high = (row[f"age_limit_{end}"] for end in ("low", "high"))
    return f"{risk} at {age:.2f} years ({low:.2f} to {'later' if high is None else f'{high:.2f}'})"


def _events(row):
    limit = row["event_limit"]
    return "" if limit is None else f", at {limit:.0f} events"


def _today(row):
    share = row["today_share_over"]
    if share is None:
        return ""
    return (
        f"today's limit: {100 * share:.1f} % over before it, {100 * row['today_life_left']:.0f} % of life thrown away"
    )
