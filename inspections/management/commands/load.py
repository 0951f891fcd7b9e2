from pathlib import Path

from django.core.management.base import CommandError
from django.utils import timezone

from fleet.intake import FILL_EMPTY, REFUSE_ALL, FilesRefused, UnusualRows, counts, read_folder
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.own_workbooks import read_pool_workbook
from inspections.files.sets import FILE_NAMES
from inspections.management.pool_command import PoolCommand

SHOWN = 50


class Command(PoolCommand):
    help = (
        "Check the CSV files of a folder, or the sheets of a workbook that export wrote, then store what is new. "
        "If any of them has an error, nothing is stored."
    )

    def add_arguments(self, parser):
        help_text = f"holds any of {', '.join(FILE_NAMES)}; or a workbook with sheets of these names, without .csv"
        parser.add_argument("source", type=Path, help=help_text)
        parser.add_argument("--check", action="store_true", help="only check the files, and store nothing")
        parser.add_argument("--confirm", action="store_true", help="unusual values are meant: store them too")
        help_text = "fill what is stored without a value; empty cells of the files say nothing"
        parser.add_argument("--fill", action="store_true", help=help_text)

    def handle(self, *, source, check, confirm, fill, **options):
        asked = {"on": timezone.localdate(), "meant": confirm, "progress": self.stdout.write}
        asked |= {"differing": FILL_EMPTY if fill else REFUSE_ALL}
        try:
            contents, skipped = read_source(source)
            if skipped:
                self.stdout.write(f"Left out: {', '.join(skipped)}")
            if check:
                self.only_check(check_pool_files(contents, **asked))
            else:
                files, load = load_pool_files(contents, by=None, **asked)
                self.report(files, "stored")
                self.stdout.write("Stored." if load else "Nothing new: every row was stored already.")
        except (FilesRefused, UnusualRows) as error:
            raise CommandError(self.refusal(error.files)) from None

    def only_check(self, files):
        self.report(files, "new")
        if files.errors:
            raise FilesRefused(files)
        if files.unusual:
            raise UnusualRows(files)

    def report(self, files, word):
        for finding in files.warnings.in_order(FILE_NAMES)[:SHOWN]:
            where = f"{finding.file} line {finding.line}"
            self.stderr.write(f"Note: {where}: {finding.found}. Expected: {finding.expected.removesuffix('.')}.")
        if files.warnings.count > SHOWN:
            self.stderr.write(f"Note: {files.warnings.count - SHOWN:,} more notes.")
        for file, count in counts(files).items():
            existing = f", {count['already_there']:,} stored before" if count["already_there"] else ""
            filled = f", {count['corrected']:,} of them filled" if count.get("corrected") else ""
            self.stdout.write(f"{file}: {count['rows']:,} rows, {count['stored']:,} {word}{existing}{filled}")

    def refusal(self, files):
        lines = ["file, line, column: what was found; what is expected"]
        lines += [*_listed(files.errors, "errors"), *_listed(files.unusual, "unusual values")]
        if files.unusual:
            lines.append("If the unusual values are meant, load with --confirm.")
        counted = ((files.errors, "error"), (files.unusual, "unusual value"))
        found = ", ".join(f"{each.count:,} {what}{'s' * (each.count != 1)}" for each, what in counted if each)
        return "\n".join([*lines, f"{found}: nothing was stored."])


def read_source(source):
    """({file name: bytes or RawTable}, names that are skipped) of a folder or a workbook."""
    return (read_pool_workbook(source), []) if source.is_file() else read_folder(source, FILE_NAMES)


def _listed(findings, what):
    found = findings.in_order(FILE_NAMES)[:SHOWN]
    for finding in found:
        line, column = f", line {finding.line}" if finding.line else "", f", {finding.column}" if finding.column else ""
        yield f"{finding.file}{line}{column}: {finding.found}; expected: {finding.expected}"
    if findings.count > len(found):
        yield f"… and {findings.count - len(found):,} more {what}"
