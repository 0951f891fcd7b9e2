"""Nothing is lost, tried: `python3 tests/stress.py [--kills 50] [--writers 8] [--seconds 60] [--rounds 12]`.

Starts the real server on a folder of its own, signs in over HTTP and writes from several browsers at once.
First the server is killed in the middle of that, again and again: what a page had confirmed must be there, nothing
may be there by half, and a form that got no answer is sent again and acts once. Then all write for a while: nobody may
be refused or meet an error, and the counts must add up. Then, on SQLite, its files may not grow. Last they do things
that do not go together, all at the same moment, and every rule of the pool is recounted after each round.
On SQLite; `--postgres`: also on a cluster made for it; `--here`: only on the database that the environment names.
Ends with exit code 1 where something is wrong.
"""

import argparse
import os
import random
import resource
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from pathlib import Path

TESTS = Path(__file__).resolve().parent
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

SPARES_EACH = 1_000
PATIENCE_S = 60
# less than one act writes
ROOM_BYTES = 8_000


def main():
    parser = argparse.ArgumentParser(description="Kill the server while it writes; write from many browsers at once.")
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--rounds", type=int, default=12)
    parser.add_argument("--seed", type=int, default=8)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--postgres", action="store_true", help="also on PostgreSQL, in a cluster made for it")
    where.add_argument("--here", action="store_true", help="only on the empty database that the environment names")
    asked = parser.parse_args()
    if asked.here:
        sys.exit(Stress(asked).run())
    again = [sys.executable, __file__, "--here", "--seed", asked.seed, "--kills", asked.kills]
    again += ["--writers", asked.writers, "--seconds", asked.seconds, "--rounds", asked.rounds]
    again = [str(part) for part in again]
    sys.exit(any([on_sqlite(again), asked.postgres and on_postgres(again)]))


def on_sqlite(command):
    with tempfile.TemporaryDirectory(prefix="halfpower_stress_") as folder:
        environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        return subprocess.run(command, env=environment | {"HALFPOWER_DATA": folder}).returncode


def on_postgres(command):
    from on_postgres import cluster

    with cluster() as url, tempfile.TemporaryDirectory(prefix="halfpower_stress_") as folder:
        environment = os.environ | {"HALFPOWER_DATA": folder, "DATABASE_URL": url}
        return subprocess.run(command, env=environment).returncode


class Server:
    """The app under waitress as another process, on a port that is free."""

    def __init__(self):
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.log = Path(os.environ["HALFPOWER_DATA"]) / "server.log"

    def start(self):
        command = [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{self.port}", "--threads=8"]
        with open(self.log, "ab") as log:
            self.process = subprocess.Popen(
                [*command, "inspections.project.wsgi:application"], cwd=TESTS.parent, stdout=log, stderr=log
            )
        ends = time.monotonic() + PATIENCE_S
        while time.monotonic() < ends and self.process.poll() is None:
            try:
                return socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.05)
        self.kill()
        raise SystemExit(f"The server did not start:\n{self.log.read_text()[-2_000:]}")

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


class Stress:
    def __init__(self, asked):
        os.environ["DJANGO_SETTINGS_MODULE"] = "inspections.project.settings"
        os.environ["HALFPOWER_DAILY_COPY"] = "no"
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connection
        from django.utils import timezone

        call_command("migrate", verbosity=0, interactive=False)
        import stress_pool

        self.pool, self.asked, self.on = stress_pool, asked, timezone.localdate()
        self.database = connection.vendor
        self.pool.fill(asked.writers, SPARES_EACH, self.on)
        self.random = random.Random(asked.seed)
        self.server = Server()
        self.wrong = []

    def run(self):
        from stress_writers import Writer

        self.server.start()
        try:
            self.writers = [
                Writer(number, self.server.address, self.on, seed=self.asked.seed)
                for number in range(self.asked.writers)
            ]
            for writer in self.writers:
                writer.sign_in()
            self.kill_again_and_again()
            self.write_for_a_while()
            if self.database == "sqlite":
                self.fill_the_disk()
            self.collide()
        finally:
            self.server.kill()
        for line in self.wrong:
            print(f"{self.database}: WRONG: {line}", flush=True)
        if self.wrong:
            print(f"The server said last:\n{self.server.log.read_text(errors='replace')[-20_000:]}", flush=True)
        return bool(self.wrong)

    def kill_again_and_again(self):
        unanswered = repeated = 0
        for number in range(self.asked.kills):
            stop = self.write()
            self.wait_for_writes()
            self.server.kill()
            self.join(stop)
            in_flight = [writer for writer in self.writers if writer.sent]
            unanswered += len(in_flight)
            self.look_through(f"kill {number + 1}", sure=True)
            self.server.start()
            for writer in in_flight:
                kept_before = self.pool.kept_acts()
                writer.send_again()
                repeated += writer.confirmed[-1:] != [] and kept_before[writer.confirmed[-1]] > 0
            self.look_through(f"kill {number + 1}, sent again")
        self.say(
            f"{self.asked.kills} kills: {self.confirmed} acts confirmed ({self.kinds()}), {unanswered} without answer "
            f"when the server died, of which {repeated} had been kept and were answered without acting again; "
            f"{len(self.wrong)} wrong"
        )

    def write_for_a_while(self):
        before = self.confirmed
        logged = self.server.log.stat().st_size
        stop = self.write()
        time.sleep(self.asked.seconds)
        self.join(stop)
        self.look_through("all at once")
        said = self.server.log.read_bytes()[logged:].decode(errors="replace")
        self.wrong += [f"the server said: {line}" for line in said.splitlines()[:20]]
        slowest = max((writer.slowest_s for writer in self.writers), default=0)
        refused = sum(len(writer.refused) for writer in self.writers)
        self.say(
            f"{len(self.writers)} writers for {self.asked.seconds:g} s: {self.confirmed - before} acts confirmed, "
            f"slowest answer {slowest:.1f} s; {refused} refused; {len(self.wrong)} wrong"
        )

    def fill_the_disk(self):
        """Files may not grow any more, until they may: the refused form is then sent from the page that said so."""
        writer, limit, endless = self.writers[0], resource.RLIMIT_FSIZE, resource.RLIM_INFINITY
        form = writer.event_form()
        resource.prlimit(self.server.process.pid, limit, (ROOM_BYTES, endless))
        said, stands_there = writer.send_in_vain(form)
        self.look_through("full disk")
        resource.prlimit(self.server.process.pid, limit, (endless, endless))
        writer.send(form.place, stands_there, form.act)
        self.look_through("full disk, room made")
        if writer.confirmed[-1:] != [form.act]:
            self.wrong.append("full disk: the form on the page that refused it did not act")
        self.say(f"full disk: {said!r}; sent again from that page when there was room; {len(self.wrong)} wrong")

    def collide(self):
        from stress_collisions import COLLISIONS, round_of_collisions

        came_to, known, before = defaultdict(Counter), set(), len(self.wrong)
        logged = self.server.log.stat().st_size
        for number in range(self.asked.rounds):
            statuses, wrong = round_of_collisions(self.writers, number, self.on)
            for name, counted in statuses.items():
                came_to[name].update(counted)
            self.wrong += [f"round {number + 1}: {sentence}" for sentence in wrong if sentence not in known]
            known.update(wrong)
        said = self.server.log.read_bytes()[logged:].decode(errors="replace")
        self.wrong += [f"the server said: {line}" for line in said.splitlines()[:20]]
        for name, counted in came_to.items():
            self.say(f"  {name}: {counts_of(counted)}")
        all_of_them = sum(came_to.values(), Counter())
        self.say(
            f"{self.asked.rounds} rounds of {len(COLLISIONS)} collisions, {all_of_them.total()} forms sent by "
            f"{len(self.writers)} writers at once: answered {counts_of(all_of_them)}; {deadlocks()}; "
            f"{len(self.wrong) - before} wrong"
        )

    def wait_for_writes(self):
        """Until some acts are confirmed and others are out, and a moment of chance longer."""
        enough = self.confirmed + self.random.randint(1, 2 * len(self.writers))
        ends = time.monotonic() + PATIENCE_S
        while self.confirmed < enough and time.monotonic() < ends:
            time.sleep(0.002)
        time.sleep(self.random.uniform(0, 0.1))

    @property
    def confirmed(self):
        return sum(len(writer.confirmed) for writer in self.writers)

    def write(self):
        stop = threading.Event()
        self.threads = [threading.Thread(target=writer.write_until, args=(stop,)) for writer in self.writers]
        for thread in self.threads:
            thread.start()
        return stop

    def join(self, stop):
        stop.set()
        for thread in self.threads:
            thread.join()

    def look_through(self, when, sure=False):
        """`sure`: what is there beyond what was confirmed can only be what got no answer."""
        self.wrong += [f"{when}: {half}" for half in self.pool.halves(self.on)]
        kept = self.pool.kept_acts()
        confirmed = [act for writer in self.writers for act in writer.confirmed]
        self.wrong += [
            f"{when}: {act} was confirmed and is there {kept[act]} times" for act in confirmed if kept[act] != 1
        ]
        beyond = len(kept) - len(set(confirmed))
        allowed = sum(bool(writer.sent) for writer in self.writers) if sure else 0
        if beyond > allowed:
            self.wrong.append(f"{when}: {beyond} acts are there that no page confirmed, at most {allowed} may be")
        for writer in self.writers:
            self.wrong += [f"{when}: {refusal}" for refusal in writer.refused[writer.counted :]]
            writer.counted = len(writer.refused)

    def kinds(self):
        counted = Counter(kind for writer in self.writers for kind, _ in writer.confirmed)
        return ", ".join(f"{number} {kind}" for kind, number in counted.most_common())

    def say(self, line):
        print(f"{self.database}: {line}", flush=True)


def deadlocks():
    """How many PostgreSQL ended, all of them done again without a word."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return "no deadlocks"
    with connection.cursor() as cursor:
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return f"{cursor.fetchone()[0]} deadlocks"


def counts_of(statuses):
    return ", ".join(f"{count} × {status}" for status, count in sorted(statuses.items()))


if __name__ == "__main__":
    main()
