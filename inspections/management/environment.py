"""The virtual environment that a start of Halfpower goes on in; the standard library is all there is until then.

Makes `.venv` beside `manage.py`, has installed what the requirement files name and goes on inside it. An active virtual
environment of the user's own is used as it is; what it lacks is named, never installed unasked.
"""

import contextlib
import importlib
import importlib.util
import os
import re
import subprocess
import sys

from .installing import (
    AS_TEXT,
    BASE,
    NEWEST,
    RANGES,
    RANGES_OF_TESTS,
    VENV,
    bring_up_to_date,
    install_what_changed,
    last_lines,
    one_start_at_a_time,
    requirement_options,
    say,
    shell_line,
    stop,
    what_to_install,
)

MANAGE = BASE / "manage.py"
VENV_PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def get_ready(arguments, oldest_python):
    """Return only inside an environment that has all the command needs, its Python no older than `oldest_python`."""
    files = requirement_files(arguments)
    try:
        if in_own_venv():
            start_afresh = install_what_changed(files)
        elif sys.prefix != sys.base_prefix:
            refuse_lacking(files)
            start_afresh = False
        else:
            make_venv(oldest_python)
            start_afresh = True
    except OSError as error:
        stop(f"Setting up stopped: {error}")
    if start_afresh:
        hand_over([VENV_PYTHON, MANAGE, *arguments])


def requirement_files(arguments):
    return [RANGES, RANGES_OF_TESTS] if arguments[:1] == ["test"] else [RANGES]


def update(options, oldest_python):
    """Bring our own environment up to date; of somebody else's only say how that would be done."""
    if not set(options) <= {NEWEST}:
        stop(f"update takes no options but {NEWEST}, which goes beyond the locks to the newest inside the ranges.")
    if sys.prefix == sys.base_prefix:
        make_venv(oldest_python)
        hand_over([VENV_PYTHON, MANAGE, "update", *options])
    if not in_own_venv():
        command = [sys.executable, "-m", "pip", "install", *what_to_install([RANGES], NEWEST in options)]
        stop(
            f"The active virtual environment {sys.prefix} is not Halfpower's own, so it stays as it is.\n"
            f"Bring it up to date with: {shell_line(command)}"
        )
    try:
        bring_up_to_date(NEWEST in options)
    except OSError as error:
        stop(f"Setting up stopped: {error}")


def in_own_venv():
    # The prefix, not the executable: .venv/bin/python is a link to the very Python that made it.
    return sys.prefix != sys.base_prefix and VENV.is_dir() and os.path.samefile(sys.prefix, str(VENV))


def run_pytest(options):
    os.chdir(BASE)
    hand_over([sys.executable, "-m", "pytest", *options])


def hand_over(command):
    """Let another process take this one's place; its exit code becomes ours."""
    command = [str(part) for part in command]
    sys.stdout.flush()
    if os.name != "nt":
        os.execv(command[0], command)
    child = subprocess.Popen(command)
    while True:
        # Ctrl-C reaches the child as well, which ends in its own way.
        with contextlib.suppress(KeyboardInterrupt):
            sys.exit(child.wait())


# The virtual environment


def make_venv(oldest_python):
    if venv_works(oldest_python):
        return
    with one_start_at_a_time():
        if venv_works(oldest_python):
            return
        refuse_missing_ensurepip()
        # Only --clear replaces a link to a Python that is gone.
        broken = os.path.lexists(str(VENV))
        say(f"{VENV} is broken; making it anew." if broken else f"Making the virtual environment {VENV}")
        command = [sys.executable, "-m", "venv", *(["--clear"] if broken else []), str(VENV)]
        made = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **AS_TEXT)
        if made.returncode or not venv_works(oldest_python):
            stop(
                f"The virtual environment {VENV} could not be made:\n{last_lines(made.stdout)}\n"
                f"Mend that, delete {VENV} and start again."
            )


def venv_works(oldest_python):
    # The prefix again: without its pyvenv.cfg the link would start the system's Python, and that one this, for ever.
    probe = f"import sys, pip; sys.exit(sys.prefix == sys.base_prefix or sys.version_info < {oldest_python})"
    try:
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        return subprocess.call([str(VENV_PYTHON), "-c", probe], **quiet) == 0
    except OSError:
        return False


def refuse_missing_ensurepip():
    if not (importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip")):
        stop(
            f"This Python ({sys.executable}) cannot make virtual environments: its part ensurepip is not installed.\n"
            "On Debian and Ubuntu install it with: sudo apt install python3-venv\n"
            f"(python3.{sys.version_info[1]}-venv where this Python is not the system's own). Then start again."
        )


# What somebody else's environment lacks


def refuse_lacking(files):
    lacking = [line for line in required(files) if not is_met(line)]
    if lacking:
        stop(
            f"The active virtual environment {sys.prefix} lacks: {', '.join(lacking)}\n"
            f"Install it with: {shell_line([sys.executable, '-m', 'pip', 'install', *requirement_options(files)])}\n"
            f"or leave that environment (deactivate) and start again: then {VENV} is made."
        )


def required(files):
    for file in files:
        for line in file.read_text(encoding="utf-8").splitlines():
            line = re.sub(r"(^|\s)#.*", "", line).strip()
            if line and not line.startswith("-"):
                yield line


def is_met(line):
    from importlib import metadata

    try:
        requirement = requirement_parser()(line)
    except ValueError:
        return True  # A path or an address names no package to look up.
    if requirement.marker and not requirement.marker.evaluate():
        return True
    try:
        return requirement.specifier.contains(metadata.version(requirement.name), prereleases=True)
    except metadata.PackageNotFoundError:
        return False


def requirement_parser():
    for module in ("packaging.requirements", "pip._vendor.packaging.requirements"):
        with contextlib.suppress(ImportError):
            return importlib.import_module(module).Requirement
    stop(
        f"The active virtual environment {sys.prefix} has no pip.\n"
        f"Add it with: {shell_line([sys.executable, '-m', 'ensurepip'])}"
    )
