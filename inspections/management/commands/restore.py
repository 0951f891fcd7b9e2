from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspections.backup.restoring import restore_backup
from inspections.management.starting import one_start_at_a_time


class Command(BaseCommand):
    help = "Put a back-up in place of the pool. Stop the app first: what is entered meanwhile would be lost."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, help="written by backup, or a copy beside the database")
        parser.add_argument(
            "--replace", action="store_true", help="replace a pool that has records; they are backed up first"
        )

    def handle(self, *, file, replace, **options):
        try:
            with one_start_at_a_time():
                manifest = restore_backup(file, replace=replace, now=timezone.localtime(), notify=self.stdout.write)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        self.stdout.write(
            f"The pool is restored as of {manifest.made:%d %B %Y at %H:%M}. Everybody must sign in again."
        )
