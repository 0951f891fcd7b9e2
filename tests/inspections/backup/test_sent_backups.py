"""What is sent to be restored: refused in a sentence where it is no back-up or too large, and done among others."""

import threading
from contextlib import closing

import pytest
from backups import AT, rewritten, whole_pool
from conftest import signed_in
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from factories import make_mat
from page_words import words_in

from fleet.models import Mat, Session
from inspections.backup import restoring
from inspections.backup.checks import WrittenMeanwhile
from inspections.backup.newest import newest_backup
from inspections.backup.restorable import copies_here
from inspections.backup.restoring import restore_backup
from inspections.backup.sqlite import PAGES
from inspections.management.callers import FILES_BYTES, MOST_BYTES
from inspections.management.starting import one_start_at_a_time

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "muddy-hands-7"


@pytest.fixture
def client(one_of_everything, keeper):
    return signed_in(keeper)


def send(client, content):
    return client.post("/copies/send/", {"file": SimpleUploadedFile("pool.zip", content)} if content else {})


def text_of(answer):
    return words_in(answer.content.decode().partition("<main")[2].partition("</main")[0])


def waiting_in(data_dir):
    folder = data_dir / "uploads"
    return sorted(path.name[:8] for path in folder.glob("back-up.*")) if folder.exists() else []


def damaged(backup, tmp_path):
    return backup.read_bytes()[:-400]


def newer(backup, tmp_path):
    def change(manifest):
        manifest["migrations"].append(["fleet", "9999_later"])

    return rewritten(backup, tmp_path / "newer.zip", change=change).read_bytes()


def of_another_database(backup, tmp_path):
    other, member = {"sqlite": ("postgresql", "database.pgdump"), "postgresql": ("sqlite", "database.sqlite3")}[
        connection.vendor
    ]

    def change(manifest):
        own = next(name for name in manifest["members"] if name.startswith("database."))
        manifest["members"][member] = manifest["members"].pop(own)
        manifest["database"] = other

    own = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}[connection.vendor]
    return rewritten(backup, tmp_path / "other.zip", change=change, renamed={own: member}).read_bytes()


@pytest.mark.parametrize(
    ("made_of", "says"),
    [
        (lambda backup, tmp_path: b"", "Choose a back-up first."),
        (lambda backup, tmp_path: b"mat,depot\r\nM-1,Quay\r\n", "The file is not a back-up of a pool."),
        (damaged, "The file is cut off or damaged."),
        (newer, "The file was made by a newer version of this app"),
        (of_another_database, "The file is a back-up of a pool kept in"),
    ],
    ids=["nothing", "a list of mats", "cut off", "of a newer version", "of another database"],
)
def test_what_cannot_be_restored_is_refused_as_it_comes(client, backup, tmp_path, data_dir, made_of, says):
    before = whole_pool(data_dir)[:3]
    refused = send(client, made_of(backup, tmp_path))
    assert refused.status_code == 422 and says in text_of(refused)
    assert str(data_dir) not in text_of(refused).partition("Copies on this computer")[0]
    assert (waiting_in(data_dir), whole_pool(data_dir)[:3]) == ([], before)


def test_one_whose_database_is_damaged_is_refused_as_it_is_looked_at(client, backup, tmp_path, data_dir):
    member = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}[connection.vendor]
    other = rewritten(backup, tmp_path / "other.zip", members={member: b"not what it was"})
    sent = send(client, other.read_bytes())
    said = text_of(client.get(sent["Location"], follow=True))
    assert "The file is cut off or damaged" in said and "Nothing was restored." in said


def test_one_above_the_limit_is_refused_unread_and_the_page_names_the_command(client, backup, settings, data_dir):
    settings.UPLOAD_LIMIT_BYTES = 20_000
    refused = send(client, backup.read_bytes() + bytes(20_000))
    assert refused.status_code == 413
    assert "Restore it on the computer that runs the app: python3 manage.py restore FILE --replace" in text_of(refused)
    assert waiting_in(data_dir) == []
    assert "python3 manage.py restore FILE --replace" in text_of(client.get("/copies/"))


def test_the_server_lets_through_what_the_page_takes():
    assert [most for place, most in MOST_BYTES.items() if place.fullmatch("/copies/send/")] == [FILES_BYTES]


def test_no_other_file_of_this_computer_can_be_named(client, data_dir, backup):
    (data_dir / "copies").mkdir(exist_ok=True)
    (data_dir / "copies" / "led-away.zip").symlink_to(backup)
    for name in ("led-away.zip", "..%2F..%2Fpool.zip", "secret_key", "no-such.zip", "ab" * 32):
        answer = client.get(f"/copies/restore/{name}/")
        assert (answer.status_code, answer.headers.get("Location")) in ((302, "/copies/"), (404, None)), name
    assert copies_here() == []


def test_a_download_counts_as_a_copy_once_all_of_it_went_out(client, data_dir, today):
    answer = client.post("/copies/download/")
    assert next(iter(answer.streaming_content)).startswith(b"PK")
    answer.close()
    assert newest_backup(today) is None
    assert client.post("/copies/download/").getvalue()[:2] == b"PK"
    assert newest_backup(today).downloaded
    assert "Somebody downloaded it in a browser." in text_of(client.get("/"))
    assert list(data_dir.glob(".sending*")) == []


def test_two_clicks_restore_once(client, backup, data_dir):
    """The second waits for the first, and finds nobody signed in."""
    place, answers = send(client, backup.read_bytes())["Location"], []

    def click():
        try:
            answers.append(client.post(place, {"password": PASSWORD}).status_code)
        finally:
            connection.close()

    threads = [threading.Thread(target=click) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert sorted(answers)[0] == 200 and len(answers) == 2
    assert [copy.what for copy in copies_here()] == ["before a restore"]


def test_while_a_start_or_another_restore_goes_on_nothing_is_done(client, backup, monkeypatch):
    place = send(client, backup.read_bytes())["Location"]
    monkeypatch.setattr("inspections.backup.restore_views.PATIENCE_S", 0.3)
    with one_start_at_a_time():
        said = text_of(client.get(place, follow=True))
    assert "A start or a restore of this pool is under way." in said
    assert client.get(place).status_code == 200


@pytest.fixture
def writing_after_the_copy(monkeypatch):
    """`writing_after_the_copy(times)`: so often somebody enters a mat just after the pool that goes was copied."""

    def write_so_often(times):
        left, making = list(range(times)), restoring.make_backup

        def make_and_write(*args, **kwargs):
            making(*args, **kwargs)
            if left:
                thread = threading.Thread(target=enter, args=[f"W-{left.pop()}"])
                thread.start()
                thread.join(60)

        monkeypatch.setattr(restoring, "make_backup", make_and_write)

    return write_so_often


def enter(number):
    try:
        make_mat(number)
    finally:
        connection.close()


def on_sqlite():
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL locks others out before the copy is made")


def test_what_somebody_enters_between_the_copy_and_the_restore_is_in_the_copy(backup, data_dir, writing_after_the_copy):
    on_sqlite()
    writing_after_the_copy(2)
    said = []
    restore_backup(backup, replace=True, now=AT, notify=said.append)
    assert [mat.number for mat in Mat.objects.all()] == ["M-001"]
    assert said.count(restoring.WRITTEN_MEANWHILE) == 2
    (copy,) = copies_here()
    restore_backup(data_dir / "copies" / copy.name, replace=True, now=AT, notify=print)
    assert sorted(mat.number for mat in Mat.objects.all()) == ["M-001", "W-0", "W-1"]


def test_a_pool_that_is_never_left_alone_is_not_restored(backup, data_dir, writing_after_the_copy):
    on_sqlite()
    writing_after_the_copy(99)
    with pytest.raises(WrittenMeanwhile, match="Nothing was restored"):
        restore_backup(backup, replace=True, now=AT, notify=print)
    assert Mat.objects.count() == 1 + restoring.MOST_COPIES
    assert copies_here() == []


def test_no_pool_is_so_small_that_it_is_written_over_before_anybody_looked(db):
    on_sqlite()
    connection.ensure_connection()
    with closing(connection.connection.cursor()) as cursor:
        assert cursor.execute("PRAGMA page_count").fetchone()[0] > 4 * PAGES


def test_a_restore_that_fails_in_its_midst_leaves_everybody_signed_in(client, backup, monkeypatch, data_dir):
    place = send(client, backup.read_bytes())["Location"]
    make_mat("M-777")

    def fail(*args, **kwargs):
        raise ValidationError("The disk of this test is full.")

    monkeypatch.setattr(restoring, "make_backup", fail)
    refused = client.post(place, {"password": PASSWORD})
    assert refused.status_code == 422 and "The disk of this test is full." in text_of(refused)
    assert Session.objects.exists() and Mat.objects.count() == 2
