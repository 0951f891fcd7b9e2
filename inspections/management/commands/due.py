import csv
import json
from collections import Counter
from datetime import date

from django.utils import timezone

from fleet.intake.kinds import guarded
from inspections.assessment.services import assess_what_lies_ahead
from inspections.due.report import also_reached, due_report
from inspections.management.pool_command import PoolCommand
from inspections.numeric.words import Status

COLUMNS = ("segment", "mat", "position", "length_m", "status", "due_on", "cause", "also", "measure_reason")


class Command(PoolCommand):
    help = "Print which cable segments are due, and why."

    def add_arguments(self, parser):
        parser.add_argument("--on", type=date.fromisoformat, help="the day to ask for (default: today)")
        parser.add_argument("--within", type=int, metavar="DAYS", help="days to look ahead (default: as in the policy)")
        parser.add_argument("--all", action="store_true", help="all fitted segments, also those that are not due")
        parser.add_argument("--format", choices=("text", "csv", "json"), default="text")

    def handle(self, *, on=None, within=None, format="text", **options):
        assess_what_lies_ahead(timezone.localdate())
        report = due_report(on or timezone.localdate(), within_days=within, everything=options["all"])
        getattr(self, f"write_{format}")(report)

    def write_json(self, report):
        self.stdout.write(json.dumps(report, indent=1, ensure_ascii=False))

    def write_csv(self, report):
        writer = csv.DictWriter(self.stdout, [*COLUMNS, "before_event"], extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        for row in report["segments"]:
            also = " ".join(also_reached(row, report["on"]))
            values = row | {"also": also, "before_event": (row["before_event"] or {}).get("event")}
            writer.writerow({name: guarded(v) if isinstance(v, str) else v for name, v in values.items()})

    def write_text(self, report):
        counts = Counter(row["status"] for row in report["segments"])
        said = ", ".join(f"{counts[status]} {status}" for status in Status if counts[status])
        self.stdout.write(f"As of {report['on']}: {len(report['segments'])} segments{': ' if said else ''}{said}.")
        for row in report["segments"]:
            why = ", ".join(filter(None, [row["cause"], *also_reached(row, report["on"])]))
            where = f"{row['mat']} position {row['position']}"
            before = f"  ({row['before_event']['event']})" if row["status"] == Status.CHANGE_BEFORE else ""
            self.stdout.write(
                f"{row['due_on'] or 'no date':10}  {row['status']:24}  {why:14}  {row['segment']}  {where}{before}"
            )
