from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.intake import FilesRefused, counts, read_folder
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.sets import FILE_NAMES

SHOWN = 50


class Command(BaseCommand):
    help = "Check the CSV files of a folder, then store what is new. If any of them has an error, nothing is stored."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path, help=f"holds any of {', '.join(FILE_NAMES)}")
        parser.add_argument("--check", action="store_true", help="only check the files, and store nothing")

    def handle(self, *, folder, check, **options):
        try:
            contents, skipped = read_folder(folder, FILE_NAMES)
            if skipped:
                self.stdout.write(f"Left out: {', '.join(skipped)}")
            if check:
                files = check_pool_files(contents, on=timezone.localdate(), progress=self.stdout.write)
                self.report(files, "new")
                if files.errors:
                    raise FilesRefused(files)
            else:
                files, load = load_pool_files(contents, by=None, on=timezone.localdate(), progress=self.stdout.write)
                self.report(files, "stored")
                self.stdout.write("Stored." if load else "Nothing new: every row was stored already.")
        except FilesRefused as error:
            raise CommandError(self.error_table(error.files)) from None
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None

    def report(self, files, word):
        for finding in files.warnings.in_order(FILE_NAMES)[:SHOWN]:
            where = f"{finding.file} line {finding.line}"
            self.stderr.write(f"Note: {where}: {finding.found}. Expected: {finding.expected}.")
        if files.warnings.count > SHOWN:
            self.stderr.write(f"Note: {files.warnings.count - SHOWN:,} more notes.")
        for file, count in counts(files).items():
            existing = f", {count['already_there']:,} stored before" if count["already_there"] else ""
            self.stdout.write(f"{file}: {count['rows']:,} rows, {count['stored']:,} {word}{existing}")

    def error_table(self, files):
        found = files.errors.in_order(FILE_NAMES)[:SHOWN]
        lines = ["file, line, column: what was found; what is expected"]
        for error in found:
            line, column = (f", line {error.line}" if error.line else "", f", {error.column}" if error.column else "")
            lines.append(f"{error.file}{line}{column}: {error.found}; expected: {error.expected}")
        more = files.errors.count - len(found)
        if more:
            lines.append(f"… and {more:,} more errors")
        return "\n".join([*lines, f"{files.errors.count:,} errors: nothing was stored."])
