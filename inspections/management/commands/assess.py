from datetime import date

from django.utils import timezone

from inspections.assessment.services import assess_pool
from inspections.management.pool_command import PoolCommand


class Command(PoolCommand):
    help = "Assess every fitted segment again and rewrite the due list."

    def add_arguments(self, parser):
        parser.add_argument("--on", type=date.fromisoformat, help="the day to assess for (default: today)")

    def handle(self, *, on=None, **options):
        on = on or timezone.localdate()
        self.stdout.write(f"{assess_pool(on)} segments assessed as of {on}.")
