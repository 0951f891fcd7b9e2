from pathlib import Path

from django.utils import timezone

from inspections.backup.restoring import restore_backup
from inspections.management.pool_command import PoolCommand
from inspections.management.starting import one_start_at_a_time


class Command(PoolCommand):
    help = "Put a back-up in place of the pool. Stop the app first: what is entered meanwhile would be lost."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, help="written by backup, or a copy beside the database")
        parser.add_argument(
            "--replace", action="store_true", help="replace a pool that has records; they are backed up first"
        )

    def handle(self, *, file, replace, **options):
        with one_start_at_a_time():
            manifest = restore_backup(file, replace=replace, now=timezone.localtime(), notify=self.stdout.write)
        self.stdout.write(
            f"The pool is restored as of {manifest.made:%d %B %Y at %H:%M}. Everybody must sign in again."
        )
