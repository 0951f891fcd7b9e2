"""Dropping many sweep files in a browser: progress is seen, one bad file spoils nothing."""

import re
import time

import pytest
from factories import make_segment

from inspections.models import Sweep

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MANY = 100
# the goal is 30 s, measured by hand; a test on a busy machine is given more
MOST_S = 90


def files(number):
    points = "".join(f"{800 + 2 * place} -30 0 -1.3 10 -1.3 10 -30 0\n" for place in range(101))
    for each in range(number):
        text = f"! {each}\n# MHz S DB R 50\n{points}"
        yield {"name": f"W-{each:03d}.s2p", "mimeType": "application/octet-stream", "buffer": text.encode()}


def test_a_hundred_files_show_progress_and_one_bad_one_spoils_nothing(open_page, bench_hand):
    for each in range(MANY):
        make_segment(serial=f"W-{each:03d}")
    page = open_page(bench_hand)
    page.goto("/sweeps/add/")
    chosen = list(files(MANY))
    chosen[34]["buffer"] = b"no sweep at all"
    page.set_input_files("input[type=file]", chosen)
    began = time.monotonic()
    page.click("button:has-text('Read the files')")
    page.get_by_text(re.compile(r"^[1-9]\d? of 100 files read")).wait_for()
    page.wait_for_selector("[data-on]:not([hidden])", timeout=MOST_S * 1000)
    print(f"{MANY} files in {time.monotonic() - began:.1f} s")
    assert page.inner_text("[data-count]") == f"{MANY - 1} of {MANY} files read, 1 refused"
    assert "W-034.s2p" in page.inner_text("[data-refused]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/sweeps/add/.{32}/$"))
    page.click("button:has-text('Keep the sweeps')")
    page.wait_for_url(re.compile("/sweeps/$"), timeout=MOST_S * 1000)
    assert Sweep.objects.count() == MANY - 1


def test_without_scripts_all_files_go_at_once(open_page, bench_hand):
    make_segment(serial="W-000"), make_segment(serial="W-001")
    page = open_page(bench_hand, java_script_enabled=False)
    page.goto("/sweeps/add/")
    page.set_input_files("input[type=file]", list(files(2)))
    page.click("button:has-text('Read the files')")
    page.wait_for_url(re.compile("/sweeps/add/.{32}/$"))
    page.click("button:has-text('Keep the sweeps')")
    page.wait_for_url(re.compile("/sweeps/$"))
    assert Sweep.objects.count() == 2


def test_a_cable_is_said_by_keyboard_alone(open_page, bench_hand):
    make_segment(serial="W-000")
    page = open_page(bench_hand)
    page.goto("/sweeps/add/")
    sweep = next(files(1)) | {"name": "no such name.s2p"}
    page.set_input_files("input[type=file]", [sweep])
    page.focus("button:has-text('Read the files')")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/sweeps/add/.{32}/$"))
    # the first cable that is not known has the focus
    page.keyboard.type("W-000")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/sweeps/$"))
    assert Sweep.objects.get().segment.serial == "W-000"
