from pathlib import Path

from inspections.files.pool_workbooks import SUFFIX, export_workbook
from inspections.files.saving import export_folder
from inspections.management.pool_command import PoolCommand
from inspections.owner_only import as_the_user_wants


class Command(PoolCommand):
    help = (
        "Write the pool as CSV files, or as one workbook, which load reads. "
        "This is not a back-up: it lacks accounts and corrections."
    )

    def add_arguments(self, parser):
        parser.add_argument(
            "target", type=Path, help="a new folder, one that holds none of the files, or a new workbook FILE.xlsx"
        )

    def handle(self, *, target, **options):
        export = export_workbook if target.suffix.lower() == SUFFIX and not target.is_dir() else export_folder
        with as_the_user_wants():
            written = export(target)
        for file, count in written.items():
            self.stdout.write(f"{file}: {count:,} rows")
