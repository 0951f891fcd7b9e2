"""The test suite on PostgreSQL: `python3 tests/on_postgres.py [pytest options]`.

Starts a cluster from the system's own binaries in a temporary folder, reachable through a socket in that folder
only, runs `manage.py test` with `DATABASE_URL` naming it, and takes it away again.
"""

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from glob import glob
from pathlib import Path
from urllib.parse import quote

# initdb refuses to run as root: the cluster then belongs to whichever of these the system has
UNPRIVILEGED = ("postgres", "nobody")


def main(options):
    manage = Path(__file__).resolve().parents[1] / "manage.py"
    with cluster() as url:
        environment = os.environ | {"DATABASE_URL": url}
        return subprocess.run([sys.executable, manage, "test", *options], env=environment).returncode


@contextmanager
def cluster():
    """The DATABASE_URL of a cluster that lives as long as the block."""
    folder = Path(tempfile.mkdtemp(prefix="halfpower_pg_"))
    try:
        own(folder)
        # ICU English sorts punctuation differently from SQLite: codes must come out alike all the same
        run(folder, "initdb", "-D", folder / "data", "-A", "trust", "-U", "halfpower", "-E", "UTF8", "--no-sync",
            "--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en")  # fmt: skip
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off -c full_page_writes=off"
        # else what it counts beside a test, while its tables are empty, plans the queries of the next
        options += " -c autovacuum=off"
        run(folder, "pg_ctl", "-D", folder / "data", "-w", "-l", folder / "log", "-o", options, "start")
        try:
            yield f"postgres://halfpower@{quote(str(folder), safe='')}/postgres"
        finally:
            run(folder, "pg_ctl", "-D", folder / "data", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def run(folder, program, *arguments):
    found = sorted(glob(f"/usr/lib/postgresql/*/bin/{program}"))
    command = [found[-1] if found else program, *map(str, arguments)]
    if owner():
        command = ["runuser", "-u", owner(), "--", *command]
    try:
        done = subprocess.run(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    except FileNotFoundError:
        sys.exit(f"PostgreSQL's server program {program} was not found: install the package postgresql.")
    if done.returncode:
        sys.exit(f"{program} failed: {done.stderr}")


def own(folder):
    if owner():
        shutil.chown(folder, owner())


def owner():
    """Whom the cluster belongs to; None where the caller may own it."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return next((name for name in UNPRIVILEGED if name in names), None)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
