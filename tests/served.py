"""Halfpower started as a user starts it: in a process of its own, on a folder of its own."""

import os
import re
import socket
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]
PATIENCE_S = 120


# what the tests themselves are told is not meant for it
NOT_HANDED_ON = ("DATABASE_URL", "HALFPOWER_ADDRESS", "HALFPOWER_MAIL", "DJANGO_ALLOW_ASYNC_UNSAFE")


def surroundings(folder):
    kept = {name: value for name, value in os.environ.items() if name not in NOT_HANDED_ON}
    more = {"HALFPOWER_DATA": str(folder), "HALFPOWER_DAILY_COPY": "no", "PYTHONUNBUFFERED": "1"}
    return kept | more | {"DJANGO_SETTINGS_MODULE": "inspections.project.settings"}


def free_port():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        return listening.getsockname()[1]


def command(*arguments):
    return [sys.executable, "manage.py", *arguments]


def code_in(said):
    """That with which the first account is made, as the terminal shows it."""
    return re.search(r"The page asks for this code: (\S+)", said).group(1)


def run(folder, *arguments, **environment):
    return subprocess.run(
        command(*arguments),
        cwd=ROOT,
        env=surroundings(folder) | environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )


@contextmanager
def serving(folder, port, *options, **environment):
    """The process once it answers, and what it said until then."""
    pipes = {
        "stdout": subprocess.PIPE,
        "stderr": subprocess.PIPE,
        "text": True,
        "encoding": "utf-8",
        "stdin": subprocess.DEVNULL,
    }
    with subprocess.Popen(
        command("serve", "--port", str(port), *options),
        cwd=ROOT,
        env=surroundings(folder) | {"PYTHONIOENCODING": "utf-8"} | environment,
        start_new_session=True,
        **pipes,
    ) as process:
        try:
            said = []
            for line in iter(process.stdout.readline, ""):
                said.append(line)
                if "Ctrl-C stops" in line:
                    break
            assert "Ctrl-C stops" in said[-1], process.stderr.read()
            yield process, "".join(said)
        finally:
            process.kill()
