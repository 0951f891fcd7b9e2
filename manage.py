#!/usr/bin/env python3
"""Start Halfpower: `python3 manage.py demo`, with nothing but Python 3.11 or newer present.

What is installed, and where, is the matter of `inspections/management/environment.py`. This file keeps to the syntax of
Python 3.6, so that an older Python can still say in a sentence that it is too old.
"""

import os
import sys

OLDEST_PYTHON = (3, 11)


def main():
    arguments = sys.argv[1:]
    refuse_old_python(sys.version_info)
    # Only now: these need a Python that is new enough, and no more.
    from inspections.management.environment import get_ready, run_pytest, update

    try:
        if arguments[:1] == ["update"]:
            return update(arguments[1:], OLDEST_PYTHON)
        get_ready(arguments, OLDEST_PYTHON)
        if arguments[:1] == ["test"]:
            # Before Django reads the line: it would refuse pytest's options.
            run_pytest(arguments[1:])
        run(arguments)
    except KeyboardInterrupt:
        sys.exit(130)


def refuse_old_python(version):
    if tuple(version[:2]) < OLDEST_PYTHON:
        found = ".".join(str(part) for part in version[:3])
        sys.exit(
            f"Halfpower needs Python 3.11 or newer; this is Python {found} ({sys.executable}).\n"
            "Install a newer Python and start with it, for example: python3.11 manage.py demo"
        )


def run(arguments):
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
    except ImportError as error:
        sys.exit(f"The virtual environment {sys.prefix} is broken ({error}).\nDelete that folder and start again.")
    try:
        execute_from_command_line([sys.argv[0], *arguments])
    except ImproperlyConfigured as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
