from pathlib import Path

from inspections.files.saving import export_folder
from inspections.management.pool_command import PoolCommand
from inspections.owner_only import as_the_user_wants


class Command(PoolCommand):
    help = "Write the pool as CSV files, which load reads. This is not a back-up: it lacks accounts and corrections."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path, help="a new folder, or one that holds none of the files")

    def handle(self, *, folder, **options):
        with as_the_user_wants():
            written = export_folder(folder)
        for file, count in written.items():
            self.stdout.write(f"{file}: {count:,} rows")
