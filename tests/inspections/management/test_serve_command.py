"""`manage.py serve` as a user starts it: in a process of its own, on a folder of its own."""

import os
import pty
import re
import select
import shutil
import signal
import socket
import sqlite3
import subprocess
import time
import urllib.error
import urllib.parse
import urllib.request
from contextlib import closing, contextmanager
from http.cookiejar import CookieJar

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from served import PATIENCE_S, ROOT, code_in, command, free_port, run, serving, surroundings

from inspections.backup.database_startup import open_pool
from inspections.management.lan import own_addresses, qr_code

pytestmark = pytest.mark.process
ACCOUNT = {"name": "mira", "password": "muddy-hands-7", "again": "muddy-hands-7"}


@pytest.fixture
def port():
    return free_port()


def browser():
    return urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))


def make_account(port, code):
    """As a person does on the first page; the address and the text of the page that follows."""
    opener, here = browser(), f"http://127.0.0.1:{port}"
    with opener.open(f"{here}/", timeout=PATIENCE_S) as first:
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', first.read().decode()).group(1)
        assert first.url == f"{here}/first-account/"
    sent = ACCOUNT | {"code": code, "csrfmiddlewaretoken": token}
    with opener.open(first.url, urllib.parse.urlencode(sent).encode(), timeout=PATIENCE_S) as answer:
        return answer.url, answer.read().decode()


def test_from_an_empty_folder_to_the_first_page_and_again_without_a_question(tmp_path, port):
    folder = tmp_path / "none yet"
    with serving(folder, port) as (process, said):
        assert "Creating the database." in said
        assert f"http://127.0.0.1:{port}/first-account/" in said
        refused = send(browser(), f"http://127.0.0.1:{port}/first-account/", **ACCOUNT)
        assert "Not saved yet" in refused[1]  # another account of the machine may ask, and has no code
        place, page = make_account(port, code_in(said))
        assert place == f"http://127.0.0.1:{port}/"
        assert "Start here" in page
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=PATIENCE_S)
        assert (process.returncode, errors) == (0, "")
    with serving(folder, port) as (_, said):
        assert "account" not in said and "database" not in said


class Talk:
    """A terminal with a program at its other end. Answers are typed only once they are asked for, because a hidden
    question throws away what was typed before it."""

    def __init__(self, terminal):
        self.terminal, self.said, self.heard = terminal, "", 0

    def hear(self, words):
        """Wait until these words come next."""
        until = time.monotonic() + PATIENCE_S
        while words not in self.said[self.heard :]:
            assert time.monotonic() < until, f"“{words}” was not said: {self.said}"
            if select.select([self.terminal], [], [], 1)[0]:
                self.said += os.read(self.terminal, 4096).decode("utf-8", "replace")
        self.heard = self.said.index(words, self.heard) + len(words)

    def answer(self, question, words):
        self.hear(question)
        os.write(self.terminal, f"{words}\n".encode())


@contextmanager
def at_a_terminal(folder, port):
    """`serve` with a terminal of its own, as a Talk."""
    ours, theirs = pty.openpty()
    ends = {"stdin": theirs, "stdout": theirs, "stderr": theirs}
    arguments = command("serve", "--port", str(port))
    with subprocess.Popen(arguments, cwd=ROOT, env=surroundings(folder), start_new_session=True, **ends) as process:
        try:
            yield Talk(ours)
        finally:
            process.kill()
            os.close(theirs)
            os.close(ours)


NAME, PASSWORD, AGAIN = "browser): ", "characters: ", "Repeat the password: "


def test_in_a_terminal_the_first_account_is_asked_for_there(folder, port):
    with at_a_terminal(folder, port) as talk:
        for password, again, said in (
            ("short", "short", "too short"),
            ("muddy-hands-7", "muddy-hands-8", "The passwords differ. Try again."),
            ("muddy-hands-7", "muddy-hands-7", "mira can sign in now."),
        ):
            talk.answer(NAME, "mira")
            talk.answer(PASSWORD, password)
            talk.answer(AGAIN, again)
            talk.hear(said)
        talk.hear("Ctrl-C stops")
    assert "muddy-hands" not in talk.said


def test_an_empty_name_leaves_it_to_the_first_page(folder, port):
    with at_a_terminal(folder, port) as talk:
        talk.answer(NAME, "")
        talk.hear("/first-account/")
        talk.hear("Ctrl-C stops")


@pytest.fixture
def phone(port):
    addresses = own_addresses()
    if not addresses:
        pytest.skip("This machine is in no network.")
    return f"http://{addresses[0]}:{port}"


def send(opener, address, **typed):
    """The form at an address, filled in; where it leads and what that says."""
    with opener.open(address, timeout=PATIENCE_S) as page:
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.read().decode()).group(1)
    sent = urllib.parse.urlencode(typed | {"csrfmiddlewaretoken": token}).encode()
    try:
        with opener.open(address, sent, timeout=PATIENCE_S) as answer:
            return answer.url, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.url, refused.read().decode()


def test_the_network_gets_an_address_and_a_code_but_the_first_account_only_with_the_words_of_the_terminal(
    folder, port, phone
):
    with serving(folder, port, "--lan") as (_, said):
        assert f"On a phone in the same network: {phone}/" in said
        assert qr_code(f"{phone}/", "utf-8") in said
        code = code_in(said)
        opener = browser()
        assert opener.open(phone, timeout=PATIENCE_S).url == f"{phone}/first-account/"
        for wrong in ("", "abcd-efgh"):
            for place in (phone, f"http://127.0.0.1:{port}"):
                where, page = send(opener, f"{place}/first-account/", code=wrong, **ACCOUNT)
                assert where == f"{place}/first-account/" and "Not saved yet" in page
        where, page = send(opener, f"{phone}/first-account/", code=code, **ACCOUNT)
        assert where == f"{phone}/" and "Start here" in page


@pytest.mark.django_db
def test_the_demo_served_to_a_network_lets_nobody_in_with_a_printed_password(folder, port, phone):
    make = "from inspections.demo.accounts import make_accounts as make; make()"
    assert run(folder, "shell", "-v0", "-c", make).returncode == 0
    with serving(folder, port, "--lan") as (_, said):
        assert "So these accounts are switched off: ida, tam, odo, wren." in said
        assert "No keeper can sign in." in said
        code = code_in(said)
        assert send(browser(), f"{phone}/first-account/", code=code, **ACCOUNT)[0] == f"{phone}/"
        for place in (phone, f"http://127.0.0.1:{port}"):
            where, _ = send(browser(), f"{place}/sign-in/", username="ida", password="peat-lane-keeper")
            assert where == f"{place}/sign-in/"
    with serving(folder, port, HALFPOWER_HOSTS="pool.local") as (_, said):
        assert "account" not in said


@pytest.mark.django_db
def test_a_server_of_ones_own_begins_as_closed_as_the_commands(folder):
    make = "from inspections.demo.accounts import make_accounts as make; make()"
    assert run(folder, "shell", "-v0", "-c", make).returncode == 0
    (folder / "pool.sqlite3").chmod(0o644)
    done = run(folder, "shell", "-v0", "-c", "import inspections.project.wsgi", HALFPOWER_HOSTS="pool.local")
    assert "So these accounts are switched off: ida, tam, odo, wren." in done.stderr
    assert f"The pool's files in {folder} stood open" in done.stderr
    assert (folder / "pool.sqlite3").stat().st_mode & 0o777 == 0o600


def test_this_computer_alone_is_served_unless_asked(folder, port):
    with serving(folder, port), pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.2", port), timeout=5)


def refused(folder, port):
    done = run(folder, "serve", "--port", str(port))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    return done.stderr


def test_a_taken_port(folder, port):
    with socket.create_server(("127.0.0.1", port)):
        assert f"Port {port} is in use" in refused(folder, port)


def test_a_database_that_another_copy_writes_to(folder, port):
    with closing(sqlite3.connect(folder / "pool.sqlite3")) as other:
        other.execute("BEGIN IMMEDIATE")
        said = refused(folder, port)
    assert "is locked: another copy of this app" in said
    assert "start again" in said


def test_a_folder_that_cannot_be(tmp_path, port):
    (tmp_path / "a file").touch()
    said = refused(tmp_path / "a file" / "data", port)
    assert "cannot be used" in said and "HALFPOWER_DATA" in said


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_only_be_read(folder, port):
    folder.chmod(0o500)
    try:
        assert "Nothing can be written into" in refused(folder, port)
    finally:
        folder.chmod(0o700)


def test_a_folder_that_nothing_can_be_written_into(settings, tmp_path):
    (tmp_path / "a file").touch()
    settings.DATA_DIR = tmp_path / "a file" / "data"
    with pytest.raises(ValidationError, match=r"cannot be written to.* name another folder"):
        open_pool(now=timezone.localtime(), notify=print)


def test_a_damaged_database(folder, port):
    (folder / "pool.sqlite3").write_bytes(b"no database at all " * 400)
    said = refused(folder, port)
    assert "is damaged" in said and "manage.py restore" in said


def test_a_database_of_a_newer_version(folder, port):
    with closing(sqlite3.connect(folder / "pool.sqlite3")) as pool, pool:
        pool.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('fleet', '9999_later', '2030-01-01')")
    said = refused(folder, port)
    assert "written by a newer version of this app: it has fleet.9999_later" in said
    assert "Update the app" in said


def test_a_database_of_an_older_version_is_brought_up_to_date_after_a_copy_is_put_beside_it(
    older_folder, port, tmp_path
):
    with closing(sqlite3.connect(older_folder / "pool.sqlite3")) as pool, pool:
        pool.execute("INSERT INTO fleet_submission (token, made_at, answer_url) VALUES ('a1', '2026-01-01', '/kept/')")
    with serving(older_folder, port) as (_, said):
        assert "from an older version of the app" in said
        with closing(sqlite3.connect(older_folder / "pool.sqlite3")) as pool:
            assert pool.execute("SELECT answer_url FROM fleet_submission").fetchall() == [("/kept/",)]
            assert pool.execute("SELECT count(*) FROM inspections_digest").fetchone() == (0,)
    (copy,) = (older_folder / "copies").glob("before-update-*.zip")
    shutil.unpack_archive(copy, tmp_path / "unpacked")
    with closing(sqlite3.connect(tmp_path / "unpacked" / "database.sqlite3")) as before:
        tables = {name for (name,) in before.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert "inspections_digest" not in tables
        assert before.execute("SELECT answer_url FROM fleet_submission").fetchall() == [("/kept/",)]
