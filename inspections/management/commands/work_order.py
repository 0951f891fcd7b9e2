from datetime import date
from pathlib import Path

from django.core.management.base import CommandError
from django.utils import timezone

from inspections.management.pool_command import PoolCommand
from inspections.owner_only import as_the_user_wants
from inspections.workshop.printing import is_stand_alone_sheet, stand_alone_sheet
from inspections.workshop.selectors import mat_of_number
from inspections.workshop.services import work_order_of_due


class Command(PoolCommand):
    help = "Write a mat's work order as one HTML file; first raises one for what is due and on no order yet."

    def add_arguments(self, parser):
        parser.add_argument("mat", help="the mat number")
        parser.add_argument("--on", type=date.fromisoformat, help="the day to ask for (default: today)")
        parser.add_argument("--out", type=Path, required=True, metavar="FILE.html")

    def handle(self, *, mat, on=None, out, **options):
        on = on or timezone.localdate()
        found = mat_of_number(mat)
        if found is None:
            raise CommandError(f"There is no mat {mat}.")
        if out.exists() and not (out.is_file() and is_stand_alone_sheet(out)):
            raise CommandError(f"{out} exists already and is no work order. Name a new file, so that nothing is lost.")
        order, raised = work_order_of_due(found, by=None, on=on)
        try:
            with as_the_user_wants():
                out.write_text(stand_alone_sheet(order, on), "utf-8")
        except OSError as failure:
            said = f"{out} could not be written: {failure.strerror}. The order is saved. Try again."
            raise CommandError(said) from None
        cables = order.lines.count()
        done = "raised" if raised else f"open since {order.raised_on}, nothing else is due"
        self.stdout.write(f"{order} for {mat}, {cables} cable{'' if cables == 1 else 's'}: {done}. Written to {out}.")
