"""What is installed in Halfpower's own environment, and what brings it up to date; standard library only.

Where a lock fits, its releases are installed, each file compared with the hashes that stand there; elsewhere what the
index has inside the ranges.
"""

import contextlib
import hashlib
import importlib
import os
import re
import shlex
import subprocess
import sys
import sysconfig
import time
from importlib import metadata
from pathlib import Path

BASE = Path(__file__).resolve().parents[2]
VENV = BASE / ".venv"
STAMP = VENV / "halfpower-installed.txt"
RANGES = BASE / "requirements.txt"
RANGES_OF_TESTS = BASE / "tests" / "requirements.txt"
LOCKS = {RANGES: BASE / ".requirements.lock", RANGES_OF_TESTS: BASE / "tests" / "requirements.lock"}
# what the locks were tried with
LOCKED_PYTHONS = ((3, 11), (3, 12), (3, 13))
LOCKED_SYSTEMS = re.compile(r"linux-(x86_64|aarch64)|macosx-.*-(x86_64|arm64|universal2)|win-amd64")

AS_TEXT = {"encoding": "utf-8", "errors": "replace"}
PATIENCE_S = 15
PROGRESS = re.compile(r"(Collecting|Processing|Downloading|Building|Installing) .*?(?= \(from |: |$)")
NO_NETWORK = re.compile(
    r"connection (broken|timed out|refused|reset|aborted|error)|(failed to|unable to|could not) (connect|establish)"
    r"|max retries exceeded|read timed out|name resolution|getaddrinfo|unreachable",
    re.IGNORECASE,
)
LAST_TRY = re.compile(r"WARNING: Retrying \(Retry\(total=0,")
OTHER_HASH = "DO NOT MATCH THE HASHES"
NO_FILE = re.compile(r"No matching distribution found for .*")
NEWEST = "--newest"


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


# What is installed, as the stamp says


def install_what_changed(files):
    """Install unless the stamp says it is done; True when it was not, so that Python must start afresh to see it."""
    if is_installed(files):
        return False
    with one_start_at_a_time():
        if not is_installed(files):
            install(files)
            say("Installed.")
    return True


def install(files, newest=False):
    STAMP.unlink(missing_ok=True)
    pip_install(files, newest)
    # Last, so that an interrupted installation is done again.
    STAMP.write_text("\n".join(stamp_lines(files)), encoding="utf-8")


def is_installed(files):
    return set(stamp_lines(files)) <= set(stamped().splitlines())


def stamped():
    try:
        return STAMP.read_text(encoding="utf-8")
    except (FileNotFoundError, UnicodeDecodeError):
        return ""


def stamp_lines(files):
    """What must stay as it is for an installation to be good; a lock that changed is installed by the next start."""
    every = [*files, *(locks(files) or [])]
    hashes = [f"{name_of(file)} {hashlib.sha256(file.read_bytes()).hexdigest()}" for file in every]
    return ["python {}.{}".format(*sys.version_info), f"path {VENV}", *hashes]


def locks(files):
    """The locks of these ranges; None where one is missing or does not fit this Python or this computer."""
    fits = sys.implementation.name == "cpython" and sys.version_info[:2] in LOCKED_PYTHONS
    found = [LOCKS[file] for file in files]
    if fits and LOCKED_SYSTEMS.fullmatch(sysconfig.get_platform()) and all(lock.exists() for lock in found):
        return found
    return None


# pip


def pip_install(files, newest):
    # python -m pip, because the script bin/pip dies when the folder moves.
    pip = [sys.executable, "-u", "-m", "pip"]
    quiet = ["--disable-pip-version-check", "--progress-bar", "off", "--no-input", "--no-user"]
    say(f"Installing {names(files)} into {VENV}; the first time this may take some minutes.")
    lines = []
    patience = patience_options(pip, tries=3 if newest else 2)
    command = [*pip, "install", *quiet, *patience, *what_to_install(files, newest)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **AS_TEXT) as process:
        for line in process.stdout:
            lines.append(line.strip())
            show_progress(lines[-1])
            if newest and LAST_TRY.match(lines[-1]):
                # pip would be content with what is installed, and call it the newest
                process.terminate()
                stop(failed_installation(files, lines))
    if process.returncode:
        stop(failed_installation(files, lines))


def what_to_install(files, newest=False):
    """pip's words: the locks where they fit, else the ranges; `newest` is of the ranges, beyond the locks."""
    if newest:
        return ["--upgrade", "--upgrade-strategy", "eager", *requirement_options(files)]
    if locked := locks(files):
        # no file is built here: building runs what came with it
        return ["--require-hashes", "--only-binary", ":all:", *requirement_options(locked)]
    return requirement_options(files)


def show_progress(line):
    progress = PROGRESS.match(line)
    if progress:
        say("  " + progress.group()[:100])
    elif line.startswith("WARNING: Retrying"):
        say("  No answer from the network; trying again.")


def patience_options(pip, tries):
    """Short waits, unless the user's pip settings have others: with pip's own, a missing network hangs for minutes."""
    listed = subprocess.run([*pip, "config", "list"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, **AS_TEXT)
    settings = dict(re.findall(r"^\S*\.([\w-]+)='(.*)'$", listed.stdout, re.MULTILINE))
    options = [] if {"timeout", "default-timeout"} & set(settings) else ["--timeout", str(PATIENCE_S)]
    # pip tells why a try failed only when it tries again, so never none.
    return options + (["--retries", str(tries - 1)] if settings.get("retries", "0") == "0" else [])


def failed_installation(files, lines):
    network = [line for line in lines if NO_NETWORK.search(line)]
    if network:
        return (
            f"No network: pip got no answer from the package index, so {names(files)} could not be installed.\n"
            f"pip said: {network[-1].split(' after ')[-1][:300]}\n"
            "Connect to the network, or check the proxy and index in your pip settings, and start again."
        )
    if any(OTHER_HASH in line for line in lines):
        return (
            f"The package index sent another file than {names(locks(files))} wants:\n{last_lines(lines)}\n"
            "Nothing was installed: somebody may have changed the file on its way. Use another network or index, "
            "and start again."
        )
    missing = [line for line in lines if NO_FILE.search(line)]
    if missing and locks(files):
        return (
            f"The package index has no file for this computer that {names(locks(files))} names.\n"
            f"pip said: {missing[-1][:300]}\n"
            f"Install what it has inside the ranges instead: {command_of('update', NEWEST)}"
        )
    return (
        f"pip could not install {names(files)}:\n{last_lines(lines)}\n"
        f"Mend that and start again; if it stays, delete {VENV} first."
    )


# Bringing it up to date


def bring_up_to_date(newest):
    """Install what the locks name, or with `newest` what the ranges allow, and say what changed by it."""
    with one_start_at_a_time():
        kept, before = stamped(), versions()
        files = [file for file in LOCKS if file == RANGES or f"{name_of(file)} " in kept]
        newest = newest or not locks(files)
        try:
            install(files, newest)
        except SystemExit:
            if kept and versions() == before:
                # nothing moved, so what ran before runs on
                STAMP.write_text(kept, encoding="utf-8")
            raise
    by = f"the newest inside the ranges of {names(files)}" if newest else names(locks(files))
    print(what_changed(before, versions(), by))


def versions():
    importlib.invalidate_caches()
    found = {
        each.metadata["Name"]: each.version for each in metadata.distributions(path=[sysconfig.get_path("purelib")])
    }
    return dict(sorted(found.items(), key=lambda item: item[0].lower()))


def what_changed(before, after, by):
    lines = [
        f"{name} {version}, new" if name not in before else f"{name} {before[name]} → {version}"
        for name, version in after.items()
        if before.get(name) != version
    ]
    if not lines:
        return f"Nothing changed: up to date already with {by}."
    running = "A server that is running uses the old ones on: stop it with Ctrl-C and start it again."
    return "\n".join([f"Up to date now with {by}:", *lines, running])


# Words and lines


def requirement_options(files):
    return [part for file in files for part in ("-r", str(file))]


def command_of(*arguments):
    return shell_line([Path(sys.executable).name, str(BASE / "manage.py"), *arguments])


def shell_line(command):
    return subprocess.list2cmdline(command) if os.name == "nt" else " ".join(shlex.quote(part) for part in command)


def name_of(file):
    return file.relative_to(BASE).as_posix()


def names(files):
    return " and ".join(map(name_of, files))


def last_lines(output):
    lines = output.splitlines() if isinstance(output, str) else output
    return "\n".join("  " + line for line in lines[-8:])


def say(line):
    # Beside the command's own output, which somebody may be piping into a file.
    print(line, file=sys.stderr, flush=True)


def stop(message):
    sys.exit(message)
