"""`manage.py demo`: what it prints, what it leaves alone, how it serves."""

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from factories import make_mat
from served import PATIENCE_S

from fleet.models import Mat
from inspections.management.serving import open_server

ROOT = Path(__file__).parents[3]


def demo(*options):
    said = StringIO()
    call_command("demo", *options, stdout=said)
    return said.getvalue()


@pytest.fixture
def taken_port():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        yield listening.getsockname()[1]


# committed, since the command asks whether the database is locked, which a transaction around the test would do
@pytest.mark.django_db(transaction=True)
def test_it_fills_the_pool_and_prints_sign_ins_that_work():
    said = demo("--no-serve")
    assert "invented, filled as of" in said
    assert Mat.objects.count() == 48
    lines = [line.split(maxsplit=2) for line in said.splitlines() if line.startswith("  ")]
    assert [(name, role) for name, _, role in lines] == [
        ("ida", "keeper"),
        ("tam", "bench hand"),
        ("odo", "log"),
        ("wren", "visitor"),
    ]
    assert all(Client().login(username=name, password=password) for name, password, _ in lines)


@pytest.mark.django_db(transaction=True)
def test_run_again_it_keeps_all_and_prints_no_password_that_was_changed(settings):
    demo("--no-serve")
    tam = User.objects.get(username="tam")
    tam.set_password("my-own-word-3")
    tam.save()
    settings.IS_REACHED_BY_OTHERS = True
    said = demo("--no-serve")
    assert "So these accounts are switched off: ida, odo, wren." in said
    assert "peat-lane" not in said
    settings.IS_REACHED_BY_OTHERS = False
    said = demo("--no-serve")
    assert "These accounts are switched on again, for this computer only: ida, odo, wren." in said
    assert "already there, and not changed" in said
    assert "tam          the one you set" in said
    assert "ida          peat-lane-keeper" in said


@pytest.mark.django_db(transaction=True)
def test_a_pool_of_ones_own_is_left_alone_with_a_word():
    make_mat("K-1")
    said = demo("--no-serve")
    assert "This database holds another pool. Nothing was added" in said
    assert "Sign in as" not in said


@pytest.mark.django_db(transaction=True)
def test_a_taken_port_is_said_in_a_sentence(taken_port):
    make_mat("K-1")
    with pytest.raises(CommandError, match=f"Port {taken_port} is in use.*--port {taken_port + 1}"):
        demo("--port", str(taken_port))


@pytest.mark.parametrize("port", [-1, 0, 65_536, 80_999])
def test_a_number_that_is_no_port_is_refused(port):
    with pytest.raises(ValidationError, match="is not a port"):
        open_server(port)


def start_demo(folder, *options):
    """`demo` in a process of its own, on a database of its own."""
    surroundings = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    surroundings |= {"HALFPOWER_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    command = [sys.executable, "-m", "django", "demo", *options]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.Popen(command, cwd=ROOT, env=surroundings, **pipes)


@pytest.mark.process
def test_two_starts_at_once_set_up_one_pool(tmp_path):
    with start_demo(tmp_path, "--no-serve") as one, start_demo(tmp_path, "--no-serve") as other:
        said = [start.communicate(timeout=PATIENCE_S) for start in (one, other)]
    assert [(start.returncode, errors) for start, (_, errors) in zip((one, other), said, strict=True)] == [(0, "")] * 2
    filled = sorted("invented, filled as of" in lines for lines, _ in said)
    assert filled == [False, True]


@pytest.fixture
def serving(folder, taken_port):
    """A `demo` that serves, and its port, once it says so."""
    port = taken_port + 1
    with start_demo(folder, "--port", str(port)) as process:
        try:
            lines = iter(process.stdout.readline, "")
            assert any(f"Open http://127.0.0.1:{port}/ " in line for line in lines), process.stderr.read()
            yield process, port
        finally:
            process.kill()


@pytest.mark.process
def test_it_serves_pages_and_sheets_on_this_machine_only_until_ctrl_c(serving):
    process, port = serving
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/", timeout=PATIENCE_S) as answer:
        page = answer.read().decode()
    assert "Sign in" in page
    (sheet,) = re.findall(r'<link rel="stylesheet" href="(.+)">', page)
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{sheet}", timeout=PATIENCE_S) as answer:
        assert answer.headers["Cache-Control"].endswith("immutable")
        assert b":root" in answer.read()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.2", port), timeout=5)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, errors) == (0, "")
