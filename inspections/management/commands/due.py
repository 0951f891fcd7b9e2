import csv
import json
from collections import Counter
from datetime import date

from django.utils import timezone

from fleet.intake.kinds import guarded
from fleet.models.mats import mat_name
from inspections.assessment.services import assess_what_lies_ahead
from inspections.due.report import also_reached, report_with_rest
from inspections.management.pool_command import PoolCommand
from inspections.numeric.words import Status

COLUMNS = ("segment", "mat", "position", "length_m", "status", "due_on", "cause", "also", "measure_reason")
# the first page names them as work to do, whatever their date
WORK_WITHOUT_A_DATE = (Status.MEASURE, Status.UNKNOWN)


class Command(PoolCommand):
    help = "Print which cable segments are due, and why."

    def add_arguments(self, parser):
        parser.add_argument("--on", type=date.fromisoformat, help="the day to ask for (default: today)")
        parser.add_argument("--within", type=int, metavar="DAYS", help="days to look ahead (default: as in the policy)")
        parser.add_argument("--all", action="store_true", help="all fitted segments, also those that are not due")
        parser.add_argument("--format", choices=("text", "csv", "json"), default="text")

    def handle(self, *, on=None, within=None, format="text", **options):
        assess_what_lies_ahead(timezone.localdate())
        day = on or timezone.localdate()
        report, left_out = report_with_rest(day, within_days=within, everything=options["all"])
        getattr(self, f"write_{format}")(report, left_out)

    def write_json(self, report, left_out):
        self.stdout.write(json.dumps(report, indent=1, ensure_ascii=False))

    def write_csv(self, report, left_out):
        writer = csv.DictWriter(self.stdout, [*COLUMNS, "before_event"], extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        for row in report["segments"]:
            also = " ".join(also_reached(row, report["on"]))
            values = row | {"also": also, "before_event": (row["before_event"] or {}).get("event")}
            writer.writerow({name: guarded(v) if isinstance(v, str) else v for name, v in values.items()})

    def write_text(self, report, left_out):
        segments, on = report["segments"], report["on"]
        said = _counted(Counter(row["status"] for row in segments), Status)
        self.stdout.write(f"As of {on}: {len(segments)} segments{': ' if said else ''}{said}.")
        if rest := _counted(left_out, WORK_WITHOUT_A_DATE):
            self.stdout.write(f"Not listed here: {rest}. Write --all to list every segment.")
        causes = [", ".join(filter(None, [row["cause"], *also_reached(row, on)])) for row in segments]
        width = max(map(len, causes), default=0)
        for row, why in zip(segments, causes, strict=True):
            where = f"{mat_name(row['mat'])} position {row['position']}"
            before = f"  ({row['before_event']['event']})" if row["status"] == Status.CHANGE_BEFORE else ""
            due_on = row["due_on"] or "no date"
            self.stdout.write(f"{due_on:10}  {row['status']:24}  {why:{width}}  {row['segment']}  {where}{before}")


def _counted(counts, statuses):
    return ", ".join(f"{counts[status]} {status}" for status in statuses if counts[status])
