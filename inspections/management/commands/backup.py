from pathlib import Path

from django.utils import timezone

from inspections.backup.making import backup_notices, make_backup, note_backup
from inspections.management.pool_command import PoolCommand


class Command(PoolCommand):
    help = "Write the whole pool into one file: database, photos and raw files. The app may stay in use."

    def add_arguments(self, parser):
        parser.add_argument(
            "file", type=Path, help="a new file; it holds all accounts, so keep it where only you can read it"
        )

    def handle(self, *, file, **options):
        now = timezone.localtime()
        size_bytes = make_backup(file, now=now)
        note_backup(file, now.date())
        for notice in backup_notices(file):
            self.stdout.write(notice)
        self.stdout.write(f"The pool is in {file}: {size_bytes / 2**20:,.1f} MB.")
