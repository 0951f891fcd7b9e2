"""What all commands share: whatever refuses them is said in a sentence, and ends them with exit code 1.

A reader that goes refuses nothing: the command does its work and says the rest to nobody.
"""

import os
import sys
from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, OutputWrapper
from django.db import Error as DatabaseError

from ..owner_only import close_files
from ..storage_failures import storage_error_of


class PoolCommand(BaseCommand):
    def execute(self, *args, **options):
        self.stdout = Printed(options.pop("stdout", None) or sys.stdout)
        try:
            self.say_beside(close_files(), options.get("stderr") or sys.stderr)
            super().execute(*args, **options)
            self.stdout.flush()
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        except (OSError, DatabaseError) as failure:
            error = storage_error_of(failure)
            if error is None:
                raise
            raise CommandError(f"{error.what} {error.do}") from failure

    def say_beside(self, sentences, stream):
        """Beside what the command prints, which a program may read."""
        for sentence in sentences:
            print(sentence, file=stream, flush=True)


class Printed(OutputWrapper):
    """What a command prints, perhaps into a file: its disk may be full, while that of the pool is not."""

    def write(self, *args, **options):
        with self._told():
            super().write(*args, **options)

    def flush(self):
        with self._told():
            super().flush()

    @contextmanager
    def _told(self):
        try:
            yield
        except BrokenPipeError:
            self._go_nowhere()
        except OSError as error:
            self._go_nowhere()
            raise CommandError(f"What was to be printed could not be written: {error.strerror}.") from error

    def _go_nowhere(self):
        """What could not be printed is not tried again as the process ends, nor is what comes after it."""
        if self._out is sys.stdout:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
