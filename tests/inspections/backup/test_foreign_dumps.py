"""A back-up that somebody made to do harm, on PostgreSQL: nothing of it is run, and the pool stays as it was."""

import hashlib
import subprocess
import zipfile
from pathlib import Path

import psycopg
import pytest
from backups import refusal_of, restore, rewritten, whole_pool
from django.contrib.auth.models import User
from django.db import connection
from django.db.backends.postgresql.client import DatabaseClient
from factories import make_mat

from fleet.models import Mat
from inspections.backup.custom_dump import path_of

pytestmark = pytest.mark.django_db(transaction=True)
MEMBER = "database.pgdump"
OLD = Path(__file__).parents[2] / "data/backups/ffa95ea_postgresql.zip"


@pytest.fixture(autouse=True)
def on_postgres():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no such dumps")


def run(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall() if cursor.description else None


def everything_defined():
    """All tables, views, functions, triggers, types and schemas of the database."""
    return run(
        "SELECT 'relation', relnamespace::regnamespace || '.' || relname FROM pg_class "
        "UNION SELECT 'function', oid::regprocedure::text FROM pg_proc "
        "UNION SELECT 'schema', nspname FROM pg_namespace "
        "UNION SELECT 'trigger', tgname FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1, 2"
    )


def database_in(backup):
    with zipfile.ZipFile(backup) as archive:
        return archive.read(MEMBER)


def with_database(backup, target, content, change=lambda manifest: None):
    """The same back-up with another database in it."""

    def changed(manifest):
        manifest["members"][MEMBER] = {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        change(manifest)

    return rewritten(backup, target, change=changed, members={MEMBER: content})


def dumped(folder, *options, database=None):
    """A dump in the format of older back-ups: of this database's tables, or of all that another holds."""
    where = connection.settings_dict | ({"NAME": database} if database else {})
    client, environment = DatabaseClient.settings_to_cmd_args_env(where, [])
    options = [*options, "--format=custom", f"--file={folder / 'dump'}", *(() if database else ["--table=public.*"])]
    command = [path_of("pg_dump"), *options, *client[1:]]
    subprocess.run(command, env=environment, check=True, capture_output=True)
    return (folder / "dump").read_bytes()


# Dumps as older versions made them


# what makes it, what takes it away again, and how it is named
NO_PART_OF_A_POOL = [
    ("CREATE VIEW evil AS SELECT 1 AS one", "VIEW evil", "VIEW public evil"),
    ("CREATE MATERIALIZED VIEW evil AS SELECT 1", "MATERIALIZED VIEW evil", "MATERIALIZED VIEW public evil"),
    ("CREATE TABLE fleet_evil (id int)", "TABLE fleet_evil", "TABLE public fleet_evil"),
    (
        "CREATE TRIGGER evil BEFORE UPDATE ON fleet_mat FOR EACH ROW "
        "EXECUTE FUNCTION suppress_redundant_updates_trigger()",
        "TRIGGER evil ON fleet_mat",
        "TRIGGER public fleet_mat evil",
    ),
    (
        "CREATE RULE evil AS ON DELETE TO fleet_mat DO INSTEAD NOTHING",
        "RULE evil ON fleet_mat",
        "RULE public fleet_mat evil",
    ),
]


def test_a_dump_with_what_is_no_part_of_a_pool_is_refused(backup, tmp_path, data_dir):
    before = whole_pool(data_dir), everything_defined()
    for number, (makes, takes_away, named) in enumerate(NO_PART_OF_A_POOL):
        run(makes)
        try:
            crafted = with_database(backup, tmp_path / f"{number}.zip", dumped(tmp_path))
        finally:
            run(f"DROP {takes_away}")
        assert f"The database in this back-up holds “{named}" in refusal_of(crafted, replace=True)
    assert (whole_pool(data_dir), everything_defined()) == before
    assert not (data_dir / "copies").exists()


def test_a_dump_with_functions_or_types_is_refused(backup, tmp_path, data_dir):
    before, elsewhere = everything_defined(), "halfpower_test_elsewhere"
    for number, (makes, named) in enumerate(
        [
            ("CREATE FUNCTION evil() RETURNS int LANGUAGE sql AS 'SELECT 1'", "FUNCTION public evil()"),
            ("CREATE TYPE evil AS ENUM ('a')", "TYPE public evil"),
        ]
    ):
        run(f"CREATE DATABASE {elsewhere} TEMPLATE template0")
        try:
            with psycopg.connect(**connection.get_connection_params() | {"dbname": elsewhere}) as other:
                other.execute(makes)
            crafted = with_database(backup, tmp_path / f"{number}.zip", dumped(tmp_path, database=elsewhere))
        finally:
            run(f"DROP DATABASE {elsewhere}")
        assert f"The database in this back-up holds “{named}" in refusal_of(crafted, replace=True)
    assert everything_defined() == before


def test_a_dump_that_would_run_a_program_on_the_server_runs_nothing(backup, tmp_path, data_dir):
    content, ran = dumped(tmp_path), tmp_path / "ran"
    harmless = b"COPY public.auth_user_user_permissions (id, user_id, permission_id) FROM stdin;\n"
    tmp_path.chmod(0o777)
    harm = f"COPY public.auth_user TO PROGRAM 'touch {ran}';".encode()
    harm = b"COPY auth_group TO PROGRAM 'touch /tmp/ran';" if len(harm) > len(harmless) else harm
    assert content.count(harmless) == 1
    content = content.replace(harmless, harm.ljust(len(harmless) - 1) + b"\n")
    crafted, before = with_database(backup, tmp_path / "crafted.zip", content), whole_pool(data_dir)
    assert "TO PROGRAM 'touch " in refusal_of(crafted, replace=True)
    assert whole_pool(data_dir) == before
    assert not ran.exists() and not Path("/tmp/ran").exists()


def test_a_dump_of_tables_with_other_columns_is_refused(backup, tmp_path, data_dir):
    run("ALTER TABLE fleet_mat ADD COLUMN evil int")
    try:
        crafted = with_database(backup, tmp_path / "crafted.zip", dumped(tmp_path))
    finally:
        run("ALTER TABLE fleet_mat DROP COLUMN evil")
    before = whole_pool(data_dir)
    assert "holds other columns of “fleet_mat” than a pool has" in refusal_of(crafted, replace=True)
    assert whole_pool(data_dir) == before


def test_a_dump_as_insert_statements_is_refused(backup, tmp_path):
    crafted = with_database(backup, tmp_path / "crafted.zip", dumped(tmp_path, "--inserts"))
    assert "“INSERT INTO public.auth_group VALUES (" in refusal_of(crafted, replace=True)


def test_a_damaged_dump_is_refused(tmp_path):
    content = database_in(OLD)
    for number, place in enumerate(range(5, len(content), len(content) // 12)):
        cut = with_database(OLD, tmp_path / f"{number}.zip", content[:place])
        assert "Nothing was restored." in refusal_of(cut, replace=True)


def test_a_dump_that_unpacks_without_end_is_refused(backup, tmp_path, monkeypatch):
    monkeypatch.setattr("inspections.backup.custom_dump.UNPACKED_ALWAYS_BYTES", 2_000)
    monkeypatch.setattr("inspections.backup.custom_dump.UNPACKED_LIMIT", 0)
    crafted = with_database(backup, tmp_path / "crafted.zip", dumped(tmp_path))
    assert "unpacks to more than a back-up of its size can hold" in refusal_of(crafted, replace=True)


# Rows as this version writes them


def without_block(content, table):
    begin = content.index(b'COPY "%b"' % table)
    end = content.index(b"\\.\n", begin) + 3
    return content[:begin] + content[end:], content[begin:end]


NO_ROWS_OF_A_POOL = [
    (lambda rows: rows + b"DROP TABLE fleet_mat;\n", "holds “DROP TABLE fleet_mat;”"),
    (lambda rows: without_block(rows, b"fleet_mat")[0], "lacks the rows of fleet_mat"),
    (lambda rows: rows + without_block(rows, b"fleet_mat")[1], "holds rows of “fleet_mat”"),
    (lambda rows: rows + b"COPY pg_catalog.pg_authid (oid) FROM stdin;\n\\.\n", "holds rows of “pg_authid”"),
    (lambda rows: rows + b'COPY "a""; DROP TABLE x" (id) FROM stdin;\n\\.\n', 'holds rows of “a"; DROP TABLE x”'),
    (lambda rows: rows.replace(b'"is_superuser"', b'"is_superuser", "evil"'), "other columns of “auth_user”"),
    (lambda rows: rows[: rows.index(b"M-001")], "is cut off in the middle of its rows"),
    (lambda rows: b"", "lacks the rows of django_migrations"),
]


def test_rows_of_anything_but_a_pool_are_refused(backup, tmp_path, data_dir):
    before = whole_pool(data_dir)
    for number, (change, says) in enumerate(NO_ROWS_OF_A_POOL):
        crafted = with_database(backup, tmp_path / f"{number}.zip", change(database_in(backup)))
        assert says in refusal_of(crafted, replace=True)
    assert whole_pool(data_dir) == before


def in_block(table, change):
    """A change of the rows of one table."""

    def changed(content):
        rest, block = without_block(content, table)
        head, _, rows = block.partition(b"\n")
        return rest + head + b"\n" + change(rows.removesuffix(b"\\.\n")) + b"\\.\n"

    return changed


ROWS_OF_NO_POOL = [
    (in_block(b"fleet_mat", lambda rows: b"x" + rows), "do not fit the table fleet_mat: invalid input syntax"),
    (in_block(b"fleet_mat", lambda rows: rows + b"\\.\r\n"), "do not fit the table fleet_mat"),
    (in_block(b"fleet_mat", lambda rows: b""), "holds rows that name others which it does not hold"),
    (
        in_block(b"django_migrations", lambda rows: rows.replace(b"\tfleet\t", b"\tflood\t")),
        "has been through other migrations than the back-up says",
    ),
]


def test_rows_that_no_pool_can_hold_are_refused(backup, tmp_path, data_dir):
    before = whole_pool(data_dir), everything_defined()
    for number, (change, says) in enumerate(ROWS_OF_NO_POOL):
        crafted = with_database(backup, tmp_path / f"{number}.zip", change(database_in(backup)))
        assert says in refusal_of(crafted, replace=True)
    assert (whole_pool(data_dir), everything_defined()) == before
    assert not (data_dir / "copies").exists()


def test_a_back_up_that_names_no_migrations_is_refused(backup, tmp_path):
    crafted = rewritten(backup, tmp_path / "crafted.zip", change=lambda manifest: manifest.update(migrations=[]))
    assert "holds no pool" in refusal_of(crafted, replace=True)


# What else lies in the database


def test_tables_that_are_not_the_pools_are_neither_copied_nor_touched(one_of_everything, tmp_path, data_dir):
    from backups import AT

    from inspections.backup.making import make_backup

    names = ("fleet_vehicle", "django_site", "auth_token", "inspections_lift", "sessions_held")
    for name in names:
        run(f"CREATE TABLE {name} (id int PRIMARY KEY); INSERT INTO {name} VALUES (7)")
    try:
        make_backup(tmp_path / "pool.zip", now=AT)
        make_mat("M-777")
        restore(tmp_path / "pool.zip", replace=True)
        assert [mat.number for mat in Mat.objects.all()] == ["M-001"]
        assert [run(f"SELECT id FROM {name}") for name in names] == [[(7,)]] * len(names)
        assert [name for name in names if name.encode() in database_in(tmp_path / "pool.zip")] == []
    finally:
        run(f"DROP TABLE {', '.join(names)}")


def test_what_rests_on_the_pools_tables_is_not_taken_away_with_them(backup, data_dir):
    run("CREATE VIEW report AS SELECT number FROM fleet_mat")
    try:
        before = whole_pool(data_dir), everything_defined()
        refusal = refusal_of(backup, replace=True)
        assert "rests on the pool's tables and would be lost: view report depends on table fleet_mat." in refusal
        assert (whole_pool(data_dir), everything_defined()) == before
    finally:
        run("DROP VIEW report")


def test_a_database_that_another_app_shares_is_left_alone(backup, data_dir):
    run("INSERT INTO django_migrations (app, name, applied) VALUES ('shop', '0001_initial', now())")
    try:
        before = whole_pool(data_dir)
        assert "This database holds tables of another app (shop)" in refusal_of(backup, replace=True)
        assert whole_pool(data_dir) == before
    finally:
        run("DELETE FROM django_migrations WHERE app = 'shop'")


def test_an_account_that_may_not_create_a_schema_is_told_what_it_needs(backup, data_dir):
    name = connection.ops.quote_name(connection.settings_dict["NAME"])
    run("CREATE ROLE hired; GRANT ALL ON ALL TABLES IN SCHEMA public TO hired")
    run(f"REVOKE CREATE ON DATABASE {name} FROM PUBLIC")
    try:
        run("SET ROLE hired")
        refusal = refusal_of(backup, replace=True)
        assert "It needs the right to create schemas in the database (GRANT CREATE ON DATABASE)" in refusal
    finally:
        run("RESET ROLE; DROP OWNED BY hired; DROP ROLE hired")
    assert User.objects.count() == 1


def test_a_database_that_lacks_an_extension_gets_it_where_the_pool_lies(backup, data_dir):
    before = whole_pool(data_dir)
    run("DROP EXTENSION btree_gist CASCADE")
    for _ in range(2):
        restore(backup, replace=True)
        assert run("SELECT extnamespace::regnamespace::text FROM pg_extension WHERE extname = 'btree_gist'") == [
            ("public",)
        ]
    assert whole_pool(data_dir) == before
