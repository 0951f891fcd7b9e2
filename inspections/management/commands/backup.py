from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspections.backup.making import backup_notices, make_backup, note_backup


class Command(BaseCommand):
    help = "Write the whole pool into one file: database and raw files. The app may stay in use."

    def add_arguments(self, parser):
        parser.add_argument(
            "file", type=Path, help="a new file; it holds all accounts, so keep it where only you can read it"
        )

    def handle(self, *, file, **options):
        now = timezone.localtime()
        try:
            size_bytes = make_backup(file, now=now)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        note_backup(now.date())
        for notice in backup_notices():
            self.stdout.write(notice)
        self.stdout.write(f"The pool is in {file}: {size_bytes / 2**20:,.1f} MB.")
