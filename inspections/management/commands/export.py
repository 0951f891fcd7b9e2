from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from inspections.files.saving import export_folder


class Command(BaseCommand):
    help = "Write the pool as CSV files, which load reads. This is not a back-up: it lacks work orders and accounts."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path, help="a new folder, or one that holds none of the files")

    def handle(self, *, folder, **options):
        try:
            for file, count in export_folder(folder).items():
                self.stdout.write(f"{file}: {count:,} rows")
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
