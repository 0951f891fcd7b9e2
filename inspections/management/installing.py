"""What is installed in Halfpower's own environment, and what brings it up to date; standard library only."""

import contextlib
import hashlib
import os
import re
import shlex
import subprocess
import sys
import time
from pathlib import Path

BASE = Path(__file__).resolve().parents[2]
VENV = BASE / ".venv"
STAMP = VENV / "halfpower-installed.txt"

AS_TEXT = {"encoding": "utf-8", "errors": "replace"}
PATIENCE_S = 15
PROGRESS = re.compile(r"(Collecting|Processing|Downloading|Building|Installing) .*?(?= \(from |: |$)")
NO_NETWORK = re.compile(
    r"connection (broken|timed out|refused|reset|aborted|error)|(failed to|unable to|could not) (connect|establish)"
    r"|max retries exceeded|read timed out|name resolution|getaddrinfo|unreachable",
    re.IGNORECASE,
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
