"""Sweep files dropped on the page, said which cable they are of, and kept: all through the pages."""

from datetime import date
from hashlib import sha256
from io import BytesIO

import pytest
from django.urls import reverse
from factories import fit, make_instrument, make_mat, make_segment
from page_words import words_in
from sweep_cases import CASES
from sweep_cases import FOLDER as CASE_FOLDER

from inspections.models import Measurement, Sweep
from inspections.sweeps.waiting_services import plain_name

pytestmark = pytest.mark.django_db
DROP = "1" * 32
THROUGH = b"# MHz S DB R 50\n890 -30 0 -1.30 10 -1.30 10 -30 0\n900 -30 0 -1.31 10 -1.31 10 -30 0\n"
ONE_PORT = b"# MHz S DB R 50\n890 -2.60 0\n900 -2.62 0\n910 -2.64 0\n"


def named(name, content):
    file = BytesIO(content)
    file.name = name
    return file


def dropped(client, *files, drop=DROP):
    return client.post(reverse("inspections:sweep-drop"), {"drop": drop, "files": [named(*file) for file in files]})


def mapping(client, drop=DROP):
    return client.get(reverse("inspections:sweep-map", args=[drop]))


def fields_of(page):
    """What a browser would send of the form as it stands."""
    form = page.context["form"]
    values = {field.html_name: field.value() for field in form}
    return {name: "" if value in (None, False) else value for name, value in values.items()}


def confirm(client, page, drop=DROP, **changed):
    return client.post(reverse("inspections:sweep-map", args=[drop]), fields_of(page) | changed, follow=True)


def key_of(page, name):
    return next(row.waiting.key for row in page.context["form"].rows if row.waiting.name == name)


def refusals(page):
    return {each.name: each.refusal for each in page.context["refused"]}


def test_a_file_named_after_its_cable_is_kept_with_its_reading(bench_client):
    cable = make_segment(serial="C-01234")
    dropped(bench_client, ("C-01234.s2p", THROUGH))
    confirm(bench_client, mapping(bench_client))
    sweep = Sweep.objects.get()
    assert (sweep.segment, sweep.file_name, sweep.sha256) == (cable, "C-01234.s2p", sha256(THROUGH).hexdigest())
    assert (sweep.reading.loss_db, sweep.reading.method, sweep.reading.frequency_mhz) == (1.31, "through", 900)


def test_a_file_named_after_mat_and_position_finds_the_cable_that_is_there(bench_client):
    mat = make_mat("M-017")
    cable = make_segment(serial="X-1")
    fit(cable, mat, 3)
    for name in ("M-017_3.s2p", "M-017 pos 3.s2p", "m-017 3.S2P"):
        dropped(bench_client, (name, THROUGH), drop=sha256(name.encode()).hexdigest()[:32])
        page = mapping(bench_client, drop=sha256(name.encode()).hexdigest()[:32])
        (row,) = page.context["form"].rows
        assert (row.cable.value().casefold(), row.found) == ("m-017 pos 3", cable)


def test_a_serial_with_the_number_of_a_copy_is_that_cable_and_no_place(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1_2.s2p", THROUGH))
    (row,) = mapping(bench_client).context["form"].rows
    assert row.cable.value() == "C-1"


def test_all_files_without_a_cable_are_left_out_with_one_tick(bench_client):
    make_segment(serial="C-1"), make_segment(serial="C-2")
    names = ("C-1.s2p", "one.s2p", "two.s2p", "three.s2p")
    dropped(bench_client, *((name, b"! " + name.encode() + b"\n" + THROUGH) for name in names))
    page = mapping(bench_client)
    assert "Leave out all files without a cable (3 of 4)" in words_in(page.text)
    refused = confirm(bench_client, page)
    assert "3 files have no cable: type it, or leave them out." in words_in(refused.text)
    named_now = {f"cable-{key_of(page, 'one.s2p')}": "C-2", f"cable-{key_of(page, 'two.s2p')}": "no such"}
    wrong = confirm(bench_client, refused, leave_unnamed="on", **named_now)
    assert "No cable is called so" in wrong.text and not Sweep.objects.exists(), "what is typed is never left out"
    assert 'name="leave_unnamed" id="id_leave_unnamed" checked' in wrong.text, "the answer stands"
    confirm(bench_client, wrong, **{f"leave-{key_of(page, 'two.s2p')}": "on"})
    assert sorted(Sweep.objects.values_list("file_name", flat=True)) == ["C-1.s2p", "one.s2p"]


@pytest.fixture
def changed_place():
    """A place that held C-1 until May and holds C-2 since."""
    mat, cables = make_mat("M-017"), (make_segment(serial="C-1"), make_segment(serial="C-2"))
    fit(cables[0], mat, 3, fitted_on=date(2026, 1, 1), removed_on=date(2026, 5, 1))
    fit(cables[1], mat, 3, fitted_on=date(2026, 5, 1))
    return cables


@pytest.mark.parametrize("how", ["for all", "for this file"])
def test_a_place_in_a_name_is_that_of_the_day_that_is_chosen_and_is_asked_about(bench_client, changed_place, how):
    dropped(bench_client, ("M-017_3.s2p", THROUGH))
    page = mapping(bench_client)
    field = "measured_on" if how == "for all" else f"day-{key_of(page, 'M-017_3.s2p')}"
    asked = confirm(bench_client, page, **{field: "2026-03-01"})
    assert asked.status_code == 422
    assert "C-1 was in that place on 1 Mar 2026, and C-2 is there today." in asked.text
    assert not Sweep.objects.exists()
    confirm(bench_client, asked, confirmed=asked.context["form"].ways[0][0])
    assert (Sweep.objects.get().segment, Measurement.objects.get().segment) == (changed_place[0], changed_place[0])


def test_a_cable_that_the_name_contradicts_is_asked_about(bench_client, changed_place):
    dropped(bench_client, ("M-017_3.s2p", THROUGH))
    page = mapping(bench_client)
    key = key_of(page, "M-017_3.s2p")
    asked = confirm(bench_client, page, measured_on="2026-03-01", **{f"cable-{key}": "C-2"})
    assert asked.status_code == 422
    assert "by its name it is C-1 on 1 Mar 2026, and C-2 is chosen." in asked.text
    assert not Measurement.objects.exists()


def test_a_place_that_was_empty_on_the_day_that_is_chosen_is_refused(bench_client, changed_place):
    dropped(bench_client, ("M-017_3.s2p", THROUGH))
    refused = confirm(bench_client, mapping(bench_client), measured_on="2025-12-01")
    assert refused.status_code == 422
    assert "none was in such a place on 1 Dec 2025" in refused.text
    assert not Measurement.objects.exists()


def test_a_name_that_tells_no_cable_is_asked_for_and_nothing_is_kept(bench_client):
    dropped(bench_client, ("sweep 1.s2p", THROUGH))
    answer = confirm(bench_client, mapping(bench_client), measured_by="Tam")
    assert answer.status_code == 422
    assert "Type the serial of the cable" in answer.text
    assert fields_of(answer)["measured_by"] == "Tam"
    assert not Sweep.objects.exists()
    assert not Measurement.objects.exists()


def test_a_file_of_one_port_asks_for_its_far_end_and_keeps_what_was_shown(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s1p", ONE_PORT))
    page = mapping(bench_client)
    asked = confirm(bench_client, page)
    assert asked.status_code == 422
    assert "Say how the far end was" in asked.text
    confirm(bench_client, page, method="far end open")
    sweep = Sweep.objects.get()
    assert sweep.loss_db == pytest.approx(1.31)
    # return loss is twice the loss of the cable: the wave passes it twice (rf.md section 5)
    assert sweep.reading.loss_db == pytest.approx(2.62)
    assert sweep.reading.cable_loss_db == pytest.approx(1.31)


def test_a_cable_on_its_element_keeps_what_came_back_and_no_loss(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s1p", ONE_PORT))
    confirm(bench_client, mapping(bench_client), method="on its element")
    sweep = Sweep.objects.get()
    assert (sweep.loss_db, sweep.reading.loss_db, sweep.reading.cable_loss_db) == (None, pytest.approx(2.62), None)


def test_a_sweep_beside_the_reference_frequency_is_read_at_its_nearest_end_and_that_is_said(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH.replace(b"900 ", b"895 ")))
    answer = confirm(bench_client, mapping(bench_client))
    assert Sweep.objects.get().reading.frequency_mhz == 895
    assert "It does not reach 900 MHz, so it was read at 895 MHz." in answer.text


def test_a_sweep_outside_the_band_is_kept_without_a_reading(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH.replace(b"890 ", b"700 ").replace(b"900 ", b"800 ")))
    confirm(bench_client, mapping(bench_client))
    assert Sweep.objects.get().reading is None
    assert not Measurement.objects.exists()


def test_a_little_gain_counts_as_no_loss_and_that_is_said(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH.replace(b"-1.3", b"0.0")))
    answer = confirm(bench_client, mapping(bench_client))
    assert Sweep.objects.get().reading.loss_db == 0
    assert "is below zero, as no cable’s is, and counts as 0 dB" in answer.text


def test_a_form_sent_twice_keeps_one_sweep(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    page = mapping(bench_client)
    first, second = confirm(bench_client, page), confirm(bench_client, page)
    assert first.redirect_chain == second.redirect_chain
    assert Sweep.objects.count() == Measurement.objects.count() == 1


def test_a_file_that_is_kept_already_is_said_to_be_there(bench_client):
    make_segment(serial="C-1")
    for drop in (DROP, "2" * 32):
        dropped(bench_client, ("C-1.s2p", THROUGH), drop=drop)
        answer = confirm(bench_client, mapping(bench_client, drop), drop)
    assert "Kept before, and not again: Sweep of C-1" in answer.text
    assert Sweep.objects.count() == Measurement.objects.count() == 1


def test_the_same_file_for_another_cable_is_asked_about_first(bench_client):
    make_segment(serial="C-1"), make_segment(serial="C-2")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    confirm(bench_client, mapping(bench_client))
    dropped(bench_client, ("C-2.s2p", THROUGH), drop="2" * 32)
    asked = confirm(bench_client, mapping(bench_client, "2" * 32), "2" * 32)
    assert asked.status_code == 422
    assert "kept for C-1" in asked.text
    assert Sweep.objects.count() == 1
    fingerprint = asked.context["form"].ways[0][0]
    confirm(bench_client, asked, "2" * 32, confirmed=fingerprint)
    assert Sweep.objects.count() == 2


def test_all_cases_dropped_at_once_are_accepted_or_refused_as_expected(bench_client):
    cases = {case.file: case for case in CASES if case.verdict != "reject" or case.file != "55_one_port.s1p"}
    cable = {name: make_segment(serial=f"K-{number}") for number, name in enumerate(cases)}
    dropped(bench_client, *((name, (CASE_FOLDER / name).read_bytes()) for name in cases))
    page = mapping(bench_client)
    assert set(refusals(page)) == {case.file for case in cases.values() if case.verdict == "reject"}
    assert all(name in said for name, said in refusals(page).items())
    ends = {"open": "far end open", "short": "far end shorted"}
    chosen = {f"cable-{row.waiting.key}": str(cable[row.waiting.name]) for row in page.context["form"].rows}
    chosen |= {
        f"method-{row.waiting.key}": ends[end]
        for row in page.context["form"].rows
        if (end := cases[row.waiting.name].far_end)
    }
    answer = confirm(bench_client, page, **chosen)
    # the same bytes under several names are asked about: each was given a cable of its own
    if answer.status_code == 422:
        confirm(bench_client, answer, **chosen, confirmed=answer.context["form"].ways[0][0])
    kept = {sweep.segment: sweep for sweep in Sweep.objects.select_related("segment")}
    for name, case in cases.items():
        if case.verdict == "reject":
            assert cable[name] not in kept
        elif case.far_end is None:
            wanted = dict(case.points).get(900.0)
            if wanted is not None:
                assert kept[cable[name]].loss_db == pytest.approx(wanted, abs=0.0005)
    assert len(kept) == sum(case.verdict != "reject" for case in cases.values())


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("nothing.s2p", b""),
        ("picture.s2p", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40),
        ("zipped.s2p", b"PK\x03\x04" + bytes(2000)),
        ("long.s2p", b"# MHz S DB R 50\n" + b"1 " * 100_000),
        ("deep.s2p", b"[" * 50_000),
    ],
)
def test_what_is_no_sweep_is_refused_by_name_and_the_others_wait(bench_client, name, content):
    make_segment(serial="C-1")
    dropped(bench_client, (name, content), ("C-1.s2p", THROUGH))
    page = mapping(bench_client)
    assert list(refusals(page)) == [name]
    confirm(bench_client, page)
    assert Sweep.objects.get().segment.serial == "C-1"


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/C-1.s2p", "C-1.s2p"),
        ("C:\\sweeps\\C-1.s2p", "C-1.s2p"),
        # what turns the direction of writing, and a new line, are shown as what no eye can read
        ("a\u202eb\n.s2p", "a\ufffdb\ufffd.s2p"),
        ("", "sweep"),
        ("x" * 500 + ".s2p", "x" * 116 + ".s2p"),
    ],
)
def test_a_name_is_kept_without_its_path_and_without_what_no_eye_sees(sent, kept):
    assert plain_name(sent) == kept


@pytest.mark.parametrize("harm", ["altered", "gone"])
def test_a_waiting_file_that_is_not_what_was_dropped_is_not_kept(bench_client, settings, harm):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    page = mapping(bench_client)
    key = key_of(page, "C-1.s2p")
    (path,) = (settings.DATA_DIR / "uploads").glob(f"*/{key}")
    if harm == "altered":
        path.write_bytes(path.read_bytes().replace(b"-1.31", b"-9.31"))
    else:
        path.unlink()
    answer = confirm(bench_client, page)
    said = {"altered": "C-1.s2p is not what was dropped", "gone": "No files wait here"}[harm]
    assert said in answer.text
    assert not Sweep.objects.exists()


@pytest.mark.parametrize("head", [b"", b"\n", b"[]\n", b'{"look": 1}\n', b'{"look": {"warnings": []}, "name": "a"}\n'])
def test_what_waits_and_cannot_be_read_is_left_out(bench_client, settings, head):
    dropped(bench_client, ("C-1.s2p", THROUGH))
    (path,) = (settings.DATA_DIR / "uploads").glob("*/*")
    path.with_name("0" * 32).write_bytes(head)
    assert [row.waiting.name for row in mapping(bench_client).context["form"].rows] == ["C-1.s2p"]


def test_files_that_wait_are_those_of_whoever_dropped_them(bench_client, keeper_client):
    dropped(bench_client, ("C-1.s2p", THROUGH))
    assert mapping(bench_client).status_code == 200
    assert mapping(keeper_client).status_code == 302


def test_the_file_comes_back_byte_for_byte_and_is_saved_by_the_browser(bench_client):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    confirm(bench_client, mapping(bench_client))
    answer = bench_client.get(reverse("inspections:sweep-file", args=[Sweep.objects.get().pk]))
    assert answer.content == THROUGH
    assert answer["Content-Disposition"] == 'attachment; filename="C-1.s2p"'
    assert answer["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("harm", ["altered", "gone"])
def test_a_file_that_is_gone_or_altered_is_said_in_a_sentence(bench_client, settings, harm):
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    confirm(bench_client, mapping(bench_client))
    sweep = Sweep.objects.get()
    path = settings.DATA_DIR / "sweeps" / sweep.sha256[:2] / sweep.sha256
    path.write_bytes(THROUGH + b"!") if harm == "altered" else path.unlink()
    said = {"altered": "is not what was kept", "gone": "is not in the data folder"}[harm]
    page = bench_client.get(sweep.get_absolute_url())
    assert page.status_code == 200
    assert said in page.text
    answer = bench_client.get(reverse("inspections:sweep-file", args=[sweep.pk]), follow=True)
    assert said in answer.text


def test_the_page_of_a_sweep_draws_it_over_earlier_ones(bench_client):
    make_segment(serial="C-1")
    for number, day in enumerate((date(2026, 5, 2), date(2026, 6, 2), date(2026, 7, 2))):
        drop = str(number) * 32
        dropped(bench_client, ("C-1.s2p", THROUGH.replace(b"-1.31", f"-1.{31 + number}".encode())), drop=drop)
        confirm(bench_client, mapping(bench_client, drop), drop, measured_on=day.isoformat())
    newest = Sweep.objects.first()
    page = bench_client.get(newest.get_absolute_url())
    assert [line.name for line in page.context["chart"].lines] == ["2 Jul 2026", "2 Jun 2026", "2 May 2026"]
    assert page.context["rows"][-1] == (900, [pytest.approx(loss) for loss in (1.33, 1.32, 1.31)])
    assert newest.get_absolute_url() in bench_client.get(newest.segment.get_absolute_url()).text


def test_queries_of_keeping_do_not_grow_with_files(bench_client, django_assert_max_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for number, many in enumerate((2, 12)):
        drop = str(number) * 32
        files = []
        for each in range(many):
            make_segment(serial=f"Q{number}-{each}")
            files.append((f"Q{number}-{each}.s2p", THROUGH + f"! {number} {each}\n".encode()))
        dropped(bench_client, *files, drop=drop)
        page = mapping(bench_client, drop)
        sent = fields_of(page)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            bench_client.post(reverse("inspections:sweep-map", args=[drop]), sent)
        counts.append(len(asked))
    assert Sweep.objects.count() == 14
    assert counts[1] <= counts[0] + 2


def test_a_go_no_go_tester_saves_no_sweeps(bench_client):
    tester = make_instrument(kind="go/no-go")
    make_segment(serial="C-1")
    dropped(bench_client, ("C-1.s2p", THROUGH))
    answer = confirm(bench_client, mapping(bench_client), instrument=tester.pk)
    assert answer.status_code == 422
    assert "saves no sweeps" in answer.text
