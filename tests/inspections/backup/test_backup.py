"""The whole pool in one file and back, with nothing lost on the way."""

import os
import stat
import threading
import zipfile

import pytest
from backups import AT, empty_the_pool, files_in, refusal_of, restore, whole_pool, write
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from factories import make_cable_type, make_link, make_mat, make_person, make_segment

from fleet.models import CableSegment, Mat, Pool, Session
from fleet.services.calendar_feeds import renew_feed
from fleet.services.link_ends import withdraw_link
from inspections.backup.making import make_backup
from inspections.files.saving import export_zip

pytestmark = pytest.mark.django_db(transaction=True)


# There and back


def test_a_restored_pool_is_the_pool_that_was_backed_up(backup, data_dir):
    before = whole_pool(data_dir)
    assert {"fleet.Mat", "inspections.WorkOrder", "auth.User"} <= {label for label, rows in before[1].items() if rows}
    empty_the_pool(data_dir)
    assert whole_pool(data_dir) != before
    assert "The pool is restored as of 30 September 2026 at 18:04." in restore(backup)
    assert whole_pool(data_dir) == before


def test_accounts_and_the_numbers_of_new_rows_go_on_where_they_were(backup, data_dir, client):
    used = set(Mat.objects.values_list("pk", flat=True))
    empty_the_pool(data_dir)
    restore(backup)
    assert client.login(username="keeper", password="muddy-hands-7")
    assert User.objects.get(username="keeper").has_perm("fleet.keep_pool")
    assert make_mat("M-900").pk not in used


def test_a_restored_pool_signs_everybody_out(keeper_client, one_of_everything, tmp_path, data_dir):
    make_backup(tmp_path / "pool.zip", now=AT)
    assert Session.objects.exists()
    restore(tmp_path / "pool.zip", replace=True)
    assert not Session.objects.exists()
    assert keeper_client.get("/due/").status_code == 302


FEEDS_ARE_OUT = "The secret addresses of the calendar in this back-up are ended. Whoever had one makes a new one."
LINKS_ARE_OUT = "The links for phones in this back-up are withdrawn. Make a new one for each phone that needs it."


def test_a_restored_pool_lets_no_phone_in_by_a_link_of_before(keeper, tmp_path, client):
    """The keeper withdrew it after the back-up was made, because a phone was lost."""
    link = make_link(name="gate phone")
    assert client.post("/phone/a-secret/").status_code == 302
    make_backup(tmp_path / "pool.zip", now=AT)
    withdraw_link(link, by=keeper)
    assert LINKS_ARE_OUT in restore(tmp_path / "pool.zip", replace=True)
    assert client.get("/events/log/").status_code == 302
    assert client.post("/phone/a-secret/").status_code == 404
    link.refresh_from_db()
    assert link.withdrawn_at and not link.withdrawn_by
    assert link.account.changes.values_list("act", "changed_by").first() == ("link withdrawn", None)


def test_a_restored_pool_gives_its_calendar_to_no_address_of_before(keeper, tmp_path, client):
    """It was made anew after the back-up, because somebody else had come to know it."""
    renew_feed(keeper, secret="a-secret", now=AT)
    make_backup(tmp_path / "pool.zip", now=AT)
    assert client.get("/calendar/feed/a-secret.ics").status_code == 200
    renew_feed(keeper, secret="another", now=AT)
    assert FEEDS_ARE_OUT in restore(tmp_path / "pool.zip", replace=True)
    assert client.get("/calendar/feed/a-secret.ics").status_code == 404
    assert client.get("/calendar/feed/another.ics").status_code == 404


def test_a_restore_says_nothing_of_links_where_none_would_have_worked(keeper, tmp_path):
    account = make_link(days=-1, secret="over").account
    make_link(account, withdrawn_at=AT)
    make_backup(tmp_path / "pool.zip", now=AT)
    assert LINKS_ARE_OUT not in restore(tmp_path / "pool.zip", replace=True)


def test_a_restore_names_the_accounts_that_let_somebody_in_otherwise_than_before(keeper, bench_hand, visitor, tmp_path):
    """Since the back-up one member left, one changed a password, and one became less; one came, who is gone now."""
    make_backup(tmp_path / "pool.zip", now=AT)
    User.objects.filter(pk=bench_hand.pk).update(is_active=False)
    keeper.set_password("new-boots-8")
    keeper.save()
    visitor.groups.clear()
    make_person("later")
    said = restore(tmp_path / "pool.zip", replace=True)
    assert f"These accounts can sign in, who could not before the restore: {bench_hand}." in said
    assert f"These accounts sign in with the password of that day: {keeper}." in said
    assert f"These accounts are in the role of that day: {visitor}." in said
    assert "later" not in said
    assert "These accounts" not in restore(tmp_path / "pool.zip", replace=True)


def test_a_restored_pool_is_the_same_pool_for_what_phones_keep_for_it(backup, data_dir):
    uid = Pool.objects.get().uid
    empty_the_pool(data_dir)
    assert Pool.objects.get().uid != uid
    restore(backup)
    assert Pool.objects.get().uid == uid


def test_the_secret_key_static_files_copies_and_files_that_wait_stay_out(one_of_everything, tmp_path, data_dir):
    for name in ("secret_key", "static/css/page.css", "copies/daily-2026-09-01.zip", ".restore.x/left", "own.zip"):
        write(data_dir / name, b"not the pool's")
    make_backup(tmp_path / "pool.zip", now=AT)
    with zipfile.ZipFile(tmp_path / "pool.zip") as archive:
        database = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}[connection.vendor]
        assert sorted(archive.namelist()) == [database, "files/sweeps/2026/M-001.s2p", "manifest.json"]


def test_files_that_came_since_go_and_changed_ones_are_as_they_were(backup, data_dir):
    before = files_in(data_dir)
    write(data_dir / "sweeps" / "2027" / "later.s2p", b"later")
    write(data_dir / "sweeps" / "2026" / "M-001.s2p", b"changed")
    write(data_dir / "secret_key", b"its own")
    restore(backup, replace=True)
    assert files_in(data_dir) == before | {"secret_key": b"its own"}
    assert not (data_dir / "sweeps" / "2027").exists()


def test_a_back_up_taken_while_others_write_holds_no_half_of_an_act(one_of_everything, tmp_path, data_dir):
    kind, stop, begun = make_cable_type("pair"), threading.Event(), threading.Barrier(4)

    def write_pairs(writer):
        try:
            for number in range(10_000):
                with transaction.atomic():
                    make_segment(serial=f"L-{writer}-{number}", cable_type=kind)
                    make_segment(serial=f"R-{writer}-{number}", cable_type=kind)
                if number == 2:
                    begun.wait(20)
                if stop.is_set():
                    return
        finally:
            connection.close()

    writers = [threading.Thread(target=write_pairs, args=[writer]) for writer in range(3)]
    for writer in writers:
        writer.start()
    begun.wait(20)
    for number in range(3):
        make_backup(tmp_path / f"{number}.zip", now=AT)
    stop.set()
    for writer in writers:
        writer.join()
    at_the_end = CableSegment.objects.filter(cable_type=kind).count()
    for number in range(3):
        restore(tmp_path / f"{number}.zip", replace=True)
        left, right = (
            {
                serial[1:]
                for serial in CableSegment.objects.filter(serial__startswith=side).values_list("serial", flat=True)
            }
            for side in ("L-", "R-")
        )
        assert left == right
        assert 9 <= len(left) <= at_the_end // 2
        with export_zip() as stream:
            assert stream.read(2) == b"PK"
        for copy in (data_dir / "copies").glob("before-restore-*"):
            copy.unlink()


def test_whoever_has_the_database_open_sees_the_restored_pool(backup):
    make_mat("M-777")
    seen, opened, restored = [], threading.Event(), threading.Event()

    def look_twice():
        try:
            seen.append(Mat.objects.count())
            opened.set()
            restored.wait(30)
            seen.append(Mat.objects.count())
            make_mat("M-778")
        finally:
            connection.close()

    looker = threading.Thread(target=look_twice)
    looker.start()
    opened.wait(30)
    restore(backup, replace=True)
    restored.set()
    looker.join()
    assert seen == [2, 1]
    assert [mat.number for mat in Mat.objects.all()] == ["M-001", "M-778"]


# Over a pool that has records


def test_a_pool_with_records_is_kept_unless_told_otherwise(backup, tmp_path, data_dir):
    make_mat("M-777")
    before = whole_pool(data_dir)
    refusal = refusal_of(backup)
    assert refusal == (
        "This pool has records: 2 mats, 4 cable segments, 1 event, 2 readings, 1 work order, 1 account, 2 mat designs, "
        "2 cable types, 1 policy value. Nothing was restored. With --replace they are removed, after a back-up of them "
        "was saved."
    )
    assert whole_pool(data_dir) == before


def test_replacing_says_what_goes_and_backs_it_up_first(backup, data_dir):
    older = whole_pool(data_dir)
    make_mat("M-777")
    newer = whole_pool(data_dir)
    output = restore(backup, replace=True).splitlines()
    (kept,) = (data_dir / "copies").iterdir()
    assert output[0].startswith("The back-up holds these records: 1 mat, 4 cable segments,")
    assert output[1] == "It holds these files: sweeps/2026/M-001.s2p."
    assert output[2].startswith("These records are removed: 2 mats, 4 cable segments,")
    assert output[3] == f"A back-up of them was saved as {kept}."
    assert whole_pool(data_dir) == older
    restore(kept, replace=True)
    assert whole_pool(data_dir) == newer


def test_nothing_is_left_lying_about(backup, data_dir, tmp_path):
    write(data_dir / ".restore.k1lled_x" / "files" / "x", b"left by one that was killed")
    restore(backup, replace=True)
    refusal_of(backup)
    assert list(tmp_path.rglob(".*")) == []


# Another version


# going back further takes the rows of more tables away, and much longer
OLDER = ("inspections", "0018_days_of_work")
NEWER = ("inspections", "0019_morning_mails")


def test_an_older_back_up_is_brought_up_to_date(one_of_everything, tmp_path, data_dir):
    before = whole_pool(data_dir)
    call_command("migrate", *OLDER, verbosity=0)
    try:
        make_backup(tmp_path / "older.zip", now=AT)
    finally:
        call_command("migrate", "inspections", verbosity=0)
    restore(tmp_path / "older.zip", replace=True)
    assert NEWER in MigrationRecorder(connection).applied_migrations()
    # of which the older tables know nothing
    del before[1]["inspections.Digest"]
    exported, rows, *rest = whole_pool(data_dir)
    assert (exported, {name: rows[name] for name in before[1]}, *rest) == before


# The file


def test_only_its_owner_reads_a_back_up(backup):
    if os.name != "nt":
        assert stat.S_IMODE(backup.stat().st_mode) == 0o600


def test_a_back_up_never_takes_the_place_of_a_file(backup, tmp_path):
    content = backup.read_bytes()
    for path, says in (
        (backup, "exists already. Name a new file"),
        (tmp_path, "is a folder. Name a file in it"),
        (tmp_path / "no" / "such.zip", "There is no folder"),
    ):
        with pytest.raises(CommandError, match=says):
            call_command("backup", path)
    assert backup.read_bytes() == content


def test_the_command_says_where_the_pool_is(one_of_everything, tmp_path, capsys):
    call_command("backup", tmp_path / "stick.zip")
    assert capsys.readouterr().out.startswith(f"The pool is in {tmp_path / 'stick.zip'}: 0.")
