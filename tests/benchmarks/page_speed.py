"""What the pages of the demo pool cost: `python tests/benchmarks/page_speed.py [--quick]`.

Processor time, the least of several turns after the first, beside that of the sign-in page in the same run; queries;
and bytes of the HTML as it is and as a browser that takes gzip gets it. The due list is measured once more with a
look-ahead so long that its first page is full.
"""

import argparse
import gzip
import io
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from spent import least

PAGES = (
    ("Today", "/"),
    ("Due", "/due/"),
    ("Mats", "/mats/"),
    ("Mat of 12", "/mats/M-046/"),
    ("Mat of 8", "/mats/M-010/"),
    ("Events", "/events/"),
    ("Log an event", "/events/log/"),
    ("Pool's trend", "/pool/"),
)
BASELINE = ("Sign-in page", "/sign-in/")
DUE, LINE = "/due/", b'<tr role="row"><td'
# each that falls short costs an assessment of the whole pool
FULL_PAGE, LONG_LOOK_AHEADS = 50, range(540, 3661, 180)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one turn, to see that it runs")
    turns = 1 if parser.parse_args().quick else 15
    with TemporaryDirectory(prefix="halfpower_pages_", ignore_cleanup_errors=True) as folder:
        open_demo(folder)
        print_pages(turns)


def open_demo(folder):
    """Django, set up on a demo pool of its own."""
    # a copy of the database in the middle of a measurement would be measured too
    os.environ |= {"HALFPOWER_DATA": folder, "HALFPOWER_DAILY_COPY": "no"}
    os.environ["DJANGO_SETTINGS_MODULE"] = "inspections.project.settings"
    os.environ.pop("DATABASE_URL", None)
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    import django
    from django.core.management import call_command

    django.setup()
    from inspections.static_files import collect_static_files

    collect_static_files()
    call_command("demo", "--no-serve", verbosity=0, stdout=io.StringIO())
    from inspections.management.serving import keep_what_is_loaded

    keep_what_is_loaded()


def print_pages(turns):
    from django.contrib.auth.models import User
    from django.test import Client

    keeper, nobody = Client(SERVER_NAME="localhost"), Client(SERVER_NAME="localhost")
    keeper.force_login(User.objects.get(username="ida"))
    of_baseline = measured(nobody, BASELINE[1], turns)
    print(f"{'page':14}{'ms':>8}{'× sign-in':>11}{'queries':>9}{'HTML, kB':>10}{'gzip, kB':>10}")
    print_row(BASELINE[0], of_baseline, of_baseline)
    for name, address in PAGES:
        print_row(name, measured(keeper, address, turns), of_baseline)
    lines = fill_due_list(keeper)
    print_row(f"Due, {lines} lines", measured(keeper, DUE, turns), of_baseline)


def fill_due_list(client):
    """Sets the shortest look-ahead of these with which the first page of the due list is full; its lines."""
    lines = client.get(DUE).content.count(LINE)
    for days in LONG_LOOK_AHEADS:
        if lines >= FULL_PAGE:
            break
        set_look_ahead(days)
        lines = client.get(DUE).content.count(LINE)
    return lines


def set_look_ahead(days):
    from django.utils import timezone

    from inspections.policy.services import PolicyChange, change_policy

    change_policy([PolicyChange("look_ahead_days", days)], by=None, on=timezone.localdate())


def measured(client, address, turns):
    """(ms of the processor, queries, bytes of the HTML, bytes as sent)."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as captured:
        answer = client.get(address)
    queries = len(captured)
    assert answer.status_code == 200, f"{address}: {answer.status_code}"
    sent = client.get(address, headers={"accept-encoding": "gzip"}).content
    plain = gzip.decompress(sent) if sent[:2] == b"\x1f\x8b" else sent
    return least(lambda: client.get(address), turns)[0] * 1000, queries, len(plain), len(sent)


def print_row(name, values, of_baseline):
    ms, queries, plain, sent = values
    print(f"{name:14}{ms:8.1f}{ms / of_baseline[0]:11.1f}{queries:9}{plain / 1000:10.1f}{sent / 1000:10.1f}")


if __name__ == "__main__":
    main()
