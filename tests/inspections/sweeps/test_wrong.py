"""A sweep that was mapped wrongly: made void and dropped again, moved with its reading, or gone with what never was."""

from datetime import timedelta
from hashlib import sha256
from math import sin

import pytest
from django.core.exceptions import ValidationError
from factories import fit, make_cable_type, make_instrument, make_mat, make_segment

from fleet.figures import short_day
from fleet.selectors.seen import version_of
from inspections.bench.moving_services import move_readings
from inspections.bench.services import void_reading
from inspections.deleting.selectors import deletion_of_segment
from inspections.deleting.services import delete_segment
from inspections.models import Measurement, Sweep
from inspections.sweeps.reading_services import read_as
from inspections.sweeps.services import SweepToKeep, keep_sweeps

pytestmark = pytest.mark.django_db
ONE_PORT = b"# MHz S DB R 50\n890 -2.60 0\n900 -2.62 0\n910 -2.64 0\n"
OUTSIDE = ONE_PORT.replace(b"890", b"700").replace(b"900", b"750").replace(b"910", b"800")


def keep(segment, by, on, method="far end open", content=ONE_PORT, name="a.s1p"):
    file = SweepToKeep(segment, on, method, name, sha256(content).hexdigest(), content)
    return keep_sweeps([file], by=by, on=on)


def test_a_file_whose_reading_was_made_void_gives_a_reading_again_as_it_is_said_now(keeper, today):
    cable = make_segment()
    first = keep(cable, keeper, today, "on its element").sweeps[0]
    void_reading(first.reading, by=keeper, on=today, reason="it was loose")
    again = keep(cable, keeper, today).sweeps[0]
    assert Sweep.objects.count() == 1
    assert (again.pk, again.method, again.loss_db) == (first.pk, "far end open", pytest.approx(1.31))
    assert again.reading.repeat == 2
    assert [state.method for state in again.history.order_by("history_id")] == ["on its element", "far end open"]


def test_a_reading_that_is_moved_takes_its_sweep_along(keeper, today):
    here, there = make_mat(), make_mat()
    cable, other = make_segment(), make_segment()
    fit(cable, here, 1), fit(other, there, 1)
    sweep = keep(cable, keeper, today).sweeps[0]
    reading = Measurement.objects.get()
    seen = {version_of(reading)}
    rows = move_readings([reading], here, there, seen=seen, by=keeper, on=today, reason="wrong mat")
    sweep.refresh_from_db()
    assert (sweep.segment, sweep.reading) == (other, rows[0])


def wavy(points=401):
    """A file of one port whose return loss goes up and down about 3 dB, and up with frequency."""
    rows = []
    for place in range(points):
        frequency = 700 + place
        rows.append(f"{frequency} {-(3 + 0.002 * (frequency - 900) + 0.4 * sin(frequency / 5)):.6f} 0")
    return ("# MHz S DB R 50\n" + "\n".join(rows) + "\n").encode()


def test_a_moved_reading_of_one_port_is_the_mean_for_the_length_of_the_other_cable(keeper, today):
    here, there = make_mat(), make_mat()
    coax = make_cable_type(velocity_factor=0.66)
    cable, other = make_segment(0.9, cable_type=coax), make_segment(5.0, cable_type=coax)
    fit(cable, here, 1), fit(other, there, 1)
    kept = keep(cable, keeper, today, content=wavy()).sweeps[0]
    before_db, wanted = (
        kept.loss_db,
        read_as(
            wavy(),
            "far end open",
            reference_mhz=900,
            length_m=5.0,
            velocity_factor=other.cable_type.velocity_factor,
        ),
    )
    seen = {version_of(kept.reading)}
    (row,) = move_readings([kept.reading], here, there, seen=seen, by=keeper, on=today, reason="wrong mat")
    kept.refresh_from_db()
    assert abs(before_db - wanted.loss_db) > 0.001
    assert (kept.loss_db, kept.averaged_from_mhz) == (wanted.loss_db, wanted.averaged_mhz[0])
    assert row.loss_db == Measurement.objects.get(pk=row.pk).loss_db == wanted.shown_db


def test_a_moved_reading_of_one_port_whose_file_is_gone_is_refused(keeper, today, settings):
    here, there = make_mat(), make_mat()
    cable, other = make_segment(), make_segment()
    fit(cable, here, 1), fit(other, there, 1)
    kept = keep(cable, keeper, today).sweeps[0]
    (settings.DATA_DIR / "sweeps" / kept.sha256[:2] / kept.sha256).unlink()
    with pytest.raises(ValidationError, match=r"a\.s1p cannot be read again"):
        move_readings(
            [kept.reading], here, there, seen={version_of(kept.reading)}, by=keeper, on=today, reason="wrong mat"
        )
    assert Measurement.objects.get().voided_on is None


def test_readings_of_files_cannot_be_moved_to_a_cable_that_has_the_same_file(keeper, today):
    here, there = make_mat(), make_mat()
    cable, other = make_segment(), make_segment()
    fit(cable, here, 1), fit(other, there, 1)
    keep(cable, keeper, today)
    kept = Sweep.objects.get()
    Sweep.objects.create(
        **{
            name: getattr(kept, name)
            for name in ("measured_on", "sha256", "size_bytes", "kind", "method", "points", "from_mhz", "to_mhz")
        },
        file_name="same.s1p",
        segment=other,
    )
    reading = Measurement.objects.get()
    with pytest.raises(ValidationError, match=r"has the sweep a\.s1p of that day already"):
        move_readings([reading], here, there, seen={version_of(reading)}, by=keeper, on=today, reason="wrong mat")


def test_a_cable_that_never_was_goes_with_a_sweep_whose_reading_is_void(keeper, today):
    cable = make_segment(serial="C-9")
    sweep = keep(cable, keeper, today).sweeps[0]
    assert any("It was measured" in said for said in deletion_of_segment(cable).stands)
    void_reading(sweep.reading, by=keeper, on=today, reason="no such cable")
    deletion = deletion_of_segment(cable)
    assert deletion.stands == ()
    assert f"Sweep of C-9 on {short_day(today)} goes with it." in deletion.follows
    delete_segment(cable, by=keeper, on=today, reason="no such cable", follows=deletion.mark)
    assert not Sweep.objects.exists()


def test_a_sweep_without_a_reading_keeps_its_cable_from_being_deleted(keeper, today):
    cable = make_segment(serial="C-9")
    keep(cable, keeper, today, content=OUTSIDE)
    assert [said for said in deletion_of_segment(cable).stands if "is kept, and stays" in said]


def test_a_day_after_today_is_refused(keeper, today):
    cable = make_segment()
    file = SweepToKeep(cable, today + timedelta(days=1), "through", "a", "0" * 64, ONE_PORT)
    with pytest.raises(ValidationError, match="day of measuring"):
        keep_sweeps([file], by=keeper, on=today)


def test_a_method_that_the_file_does_not_hold_is_refused_by_its_name(keeper, today):
    with pytest.raises(ValidationError, match=r"a\.s1p"):
        keep(make_segment(), keeper, today, "through")
    assert not Sweep.objects.exists()


def two_port(loss_db):
    """A sweep through a cable of that loss, in dB and degrees."""
    rows = [f"{mhz} -20 0 {-loss_db} 0 {-loss_db} 0 -20 0" for mhz in range(860, 961, 10)]
    return "\n".join(["# MHz S DB R 50", *rows, ""]).encode()


def test_one_sweep_of_a_broken_cable_is_kept_as_no_signal_and_spoils_no_other(keeper, today):
    sound, broken = make_segment(0.6), make_segment(0.6)
    files = [
        SweepToKeep(cable, today, "through", f"{cable}.s2p", sha256(content).hexdigest(), content)
        for cable, content in ((sound, two_port(1.3)), (broken, two_port(112.0)))
    ]
    kept = keep_sweeps(files, by=keeper, on=today)
    assert [sweep.reading.no_signal for sweep in kept.sweeps] == [False, True]
    assert kept.said == (f"{broken}.s2p: Its loss of 112 dB is that of an open or broken cable: kept as no signal.",)
    assert broken.measurements.get().loss_db is None


def test_what_an_instrument_of_that_kind_cannot_show_is_refused_by_the_file(keeper, today):
    pocket, content = make_instrument("pocket", None, kind="one-port"), two_port(1.3)
    file = SweepToKeep(make_segment(0.6), today, "through", "a.s2p", sha256(content).hexdigest(), content)
    with pytest.raises(ValidationError, match=r"a\.s2p: "):
        keep_sweeps([file], by=keeper, on=today, instrument=pocket)
    assert not Measurement.objects.exists()
