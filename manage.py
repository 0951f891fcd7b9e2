#!/usr/bin/env python3
"""Start Halfpower: `python3 manage.py demo`, with nothing but Python 3.11 or newer present.

Makes `.venv` beside this file, installs what the requirement files name and goes on inside it. An active virtual
environment of the user's own is used as it is; what it lacks is named, never installed unasked.

This file keeps to the syntax of Python 3.6, so that an older Python can still say in a sentence that it is too old.
"""

import contextlib
import hashlib
import importlib
import importlib.util
import os
import re
import shlex
import subprocess
import sys
import time
from pathlib import Path

OLDEST_PYTHON = (3, 11)
BASE = Path(__file__).resolve().parent
VENV = BASE / ".venv"
VENV_PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMP = VENV / "halfpower-installed.txt"

AS_TEXT = {"encoding": "utf-8", "errors": "replace"}
PATIENCE_S = 15
PROGRESS = re.compile(r"(Collecting|Processing|Downloading|Building|Installing) .*?(?= \(from |: |$)")
NO_NETWORK = re.compile(
    r"connection (broken|timed out|refused|reset|aborted|error)|(failed to|unable to|could not) (connect|establish)"
    r"|max retries exceeded|read timed out|name resolution|getaddrinfo|unreachable",
    re.IGNORECASE,
)


def main():
    arguments = sys.argv[1:]
    refuse_old_python(sys.version_info)
    try:
        get_ready(arguments)
        run(arguments)
    except KeyboardInterrupt:
        sys.exit(130)


def refuse_old_python(version):
    if tuple(version[:2]) < OLDEST_PYTHON:
        found = ".".join(str(part) for part in version[:3])
        stop(
            f"Halfpower needs Python 3.11 or newer; this is Python {found} ({sys.executable}).\n"
            "Install a newer Python and start with it, for example: python3.11 manage.py demo"
        )


def get_ready(arguments):
    """Return only inside an environment that has all the command needs."""
    files = requirement_files(arguments)
    try:
        if in_own_venv():
            start_afresh = install_what_changed(files)
        elif sys.prefix != sys.base_prefix:
            refuse_lacking(files)
            start_afresh = False
        else:
            make_venv()
            start_afresh = True
    except OSError as error:
        stop(f"Setting up stopped: {error}")
    if start_afresh:
        hand_over([VENV_PYTHON, __file__, *arguments])


def requirement_files(arguments):
    files = [BASE / "requirements.txt"]
    if arguments[:1] == ["test"]:
        files.append(BASE / "tests" / "requirements.txt")
    return files


def in_own_venv():
    # The prefix, not the executable: .venv/bin/python is a link to the very Python that made it.
    return sys.prefix != sys.base_prefix and VENV.is_dir() and os.path.samefile(sys.prefix, str(VENV))


def run(arguments):
    if arguments[:1] == ["test"]:
        # Before Django reads the line: it would refuse pytest's options.
        os.chdir(str(BASE))
        hand_over([sys.executable, "-m", "pytest", *arguments[1:]])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
    except ImportError as error:
        stop(f"The virtual environment {sys.prefix} is broken ({error}).\nDelete that folder and start again.")
    try:
        execute_from_command_line([sys.argv[0], *arguments])
    except ImproperlyConfigured as error:
        stop(str(error))


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


def make_venv():
    if venv_works():
        return
    with one_start_at_a_time():
        if venv_works():
            return
        refuse_missing_ensurepip()
        # Only --clear replaces a link to a Python that is gone.
        broken = os.path.lexists(str(VENV))
        say(f"{VENV} is broken; making it anew." if broken else f"Making the virtual environment {VENV}")
        command = [sys.executable, "-m", "venv", *(["--clear"] if broken else []), str(VENV)]
        made = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **AS_TEXT)
        if made.returncode or not venv_works():
            stop(
                f"The virtual environment {VENV} could not be made:\n{last_lines(made.stdout)}\n"
                f"Mend that, delete {VENV} and start again."
            )


def venv_works():
    # The prefix again: without its pyvenv.cfg the link would start the system's Python, and that one this, for ever.
    probe = f"import sys, pip; sys.exit(sys.prefix == sys.base_prefix or sys.version_info < {OLDEST_PYTHON})"
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


@contextlib.contextmanager
def one_start_at_a_time():
    """Hold a lock on this very file: nothing is left lying about, and the system frees it when a start dies."""
    with open(__file__, "r+b") as this_file:
        if not is_locked_by_us(this_file):
            say("Another start is setting up; waiting for it.")
            while not is_locked_by_us(this_file):
                time.sleep(0.2)
        yield


def is_locked_by_us(file):
    try:
        if os.name == "nt":
            import msvcrt

            # Far behind the text, because Windows lets nobody read a locked byte.
            file.seek(2**30)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


# What is installed in our own


def install_what_changed(files):
    """Install unless the stamp says it is done; True when it was not, so that Python must start afresh to see it."""
    if is_installed(files):
        return False
    with one_start_at_a_time():
        if not is_installed(files):
            if STAMP.exists():
                STAMP.unlink()
            pip_install(files)
            # Last, so that an interrupted installation is done again.
            STAMP.write_text("\n".join(stamp_lines(files)), encoding="utf-8")
    return True


def is_installed(files):
    try:
        return set(stamp_lines(files)) <= set(STAMP.read_text(encoding="utf-8").splitlines())
    except (FileNotFoundError, UnicodeDecodeError):
        return False


def stamp_lines(files):
    hashes = [f"{file.relative_to(BASE).as_posix()} {hashlib.sha256(file.read_bytes()).hexdigest()}" for file in files]
    return ["python {}.{}".format(*sys.version_info), f"path {VENV}", *hashes]


def pip_install(files):
    # python -m pip, because the script bin/pip dies when the folder moves.
    pip = [sys.executable, "-u", "-m", "pip"]
    quiet = ["--disable-pip-version-check", "--progress-bar", "off", "--no-input", "--no-user"]
    say(f"Installing {names(files)} into {VENV}; the first time this may take some minutes.")
    lines = []
    command = [*pip, "install", *quiet, *patience_options(pip), *requirement_options(files)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **AS_TEXT) as process:
        for line in process.stdout:
            lines.append(line.strip())
            show_progress(lines[-1])
    if process.returncode:
        stop(failed_installation(files, lines))
    say("Installed.")


def show_progress(line):
    progress = PROGRESS.match(line)
    if progress:
        say("  " + progress.group()[:100])
    elif line.startswith("WARNING: Retrying"):
        say("  No answer from the network; trying again.")


def patience_options(pip):
    """Short waits, unless the user's pip settings have others: with pip's own, a missing network hangs for minutes."""
    listed = subprocess.run([*pip, "config", "list"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, **AS_TEXT)
    settings = dict(re.findall(r"^\S*\.([\w-]+)='(.*)'$", listed.stdout, re.MULTILINE))
    options = [] if {"timeout", "default-timeout"} & set(settings) else ["--timeout", str(PATIENCE_S)]
    # pip tells why a try failed only when it tries again, so never none.
    return options + (["--retries", "1"] if settings.get("retries", "0") == "0" else [])


def failed_installation(files, lines):
    network = [line for line in lines if NO_NETWORK.search(line)]
    if network:
        return (
            f"No network: pip got no answer from the package index, so {names(files)} could not be installed.\n"
            f"pip said: {network[-1].split(' after ')[-1][:300]}\n"
            "Connect to the network, or check the proxy and index in your pip settings, and start again."
        )
    return (
        f"pip could not install {names(files)}:\n{last_lines(lines)}\n"
        f"Mend that and start again; if it stays, delete {VENV} first."
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


# Words and lines


def requirement_options(files):
    return [part for file in files for part in ("-r", str(file))]


def shell_line(command):
    return subprocess.list2cmdline(command) if os.name == "nt" else " ".join(shlex.quote(part) for part in command)


def names(files):
    return " and ".join(file.relative_to(BASE).as_posix() for file in files)


def last_lines(output):
    lines = output.splitlines() if isinstance(output, str) else output
    return "\n".join("  " + line for line in lines[-8:])


def say(line):
    # Beside the command's own output, which somebody may be piping into a file.
    print(line, file=sys.stderr, flush=True)


def stop(message):
    sys.exit(message)


if __name__ == "__main__":
    main()
