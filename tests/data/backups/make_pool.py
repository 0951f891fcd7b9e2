"""The pool of the back-ups made at ffa95ea, and what it said of itself. Runs in a checkout of ffa95ea only.

usage: python make_pool.py BACKUP.zip SAID.json; see README.md
"""

# its modules are those of ffa95ea
# ruff: noqa

import json
import os
import sys
import zipfile
from datetime import date, datetime
from pathlib import Path

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "inspections.project.settings"
sys.path.insert(0, os.getcwd())
django.setup()

from django.apps import apps
from django.contrib.auth.models import User
from django.core.management import call_command

from fleet.choices import FaultEnd, UsageBasis
from fleet.models import CableSegment, CableType, Depot, Event, Fitting, Mat, MatDesign
from fleet.services import corrections, designs, events, faults, fittings, people, register, series, usage
from fleet.services.loans import take_back_loan
from fleet.services.start_here import MatGroup, lay_in
from inspections.intake import export_zip, keep_upload, load_pool_files
from inspections.models import Instrument, Measurement
from inspections.services import bench, instruments, scheduling, work_orders
from inspections.services.backup import make_backup
from inspections.services.due_report import due_report
from inspections.services.policy import PolicyChange, change_policy

ON = date(2026, 9, 30)
LENGTHS_M = (0.6, 1.1, 1.6, 2.1)
MATS = ("M-1", "M-2", "M-3", "m-1", "Ü-1", "ü-1")
# what another code would be called that is the same but for capitals: taken already
NUMBERED = "M-1 (2)"
DEPOT, OTHER_DEPOT, THIRD_DEPOT = "Quay Street", "quay street", "QUAY STREET"
BRIDGE, OTHER_BRIDGE = "bridge 1", "BRIDGE 1"
LONGEST = "Long run of the hill club ".ljust(60, "x")


def pool_files():
    serials = {
        (mat, position): f"C-{number}"
        for number, (mat, position) in enumerate(((mat, position) for mat in MATS for position in range(1, 5)), 1)
    }
    # of the serials, too, two differ in capitals only
    serials["m-1", 1] = "c-1"
    days = [date(2023, 12, 4), date(2024, 10, 7), date(2025, 10, 6), date(2026, 9, 7)]
    readings = [
        f"{serial},{day},1,{loss_db(row, position, year):.2f},900,,{BRIDGE if year else OTHER_BRIDGE},as found,routine,"
        for row, ((mat, position), serial) in enumerate(serials.items())
        for year, day in enumerate(days)
        if mat != "M-3"
    ]
    return {
        "cable_types.csv": ["cable_type,db_per_m_400mhz,db_per_m_1000mhz", "thin,0.38,0.62", "THIN,0.4,0.66"],
        "mat_designs.csv": ["design,width_m,folds_m,weight_kg", "four,2.0,0.5 1.0 1.5,11.5", "FOUR,2.0,1.0,12"],
        "positions.csv": [
            "design,position,length_m,cable_type",
            *(f"{design},{n},{metres},thin" for design in ("four", "FOUR") for n, metres in enumerate(LENGTHS_M, 1)),
        ],
        "mats.csv": [
            "mat,design,depot,owner,acquired_on",
            *(f"{mat},{'FOUR' if mat == 'm-1' else 'four'},{OTHER_DEPOT if mat == 'm-1' else DEPOT},,2022-02-01"
              for mat in MATS),
            f"{NUMBERED},four,{THIRD_DEPOT},,",
        ],
        "segments.csv": [
            "segment,cable_type,length_m",
            *(f"{serial},{'THIN' if mat == 'm-1' else 'thin'},{LENGTHS_M[position - 1]}"
              for (mat, position), serial in serials.items()),
            *(f"S-{number},thin,{metres}" for number, metres in enumerate(LENGTHS_M, 1)),
        ],
        "fittings.csv": [
            "segment,fitted_on,mat,position,fitted_basis",
            *(f"{serial},{2022 if serial == 'C-8' else 2023}-10-0{position},{mat},{position},"
              f"{'about' if mat == 'M-3' else 'known'}"
              for (mat, position), serial in serials.items()),
        ],
        "events.csv": [
            "event,name,starts_on,ends_on,place,weather",
            "E-2026-01,Hill run,2026-05-02,2026-05-03,Fen,rain",
            "e-2026-01,Bank run,2026-06-06,2026-06-06,Mill,dry",
            f"{LONGEST},Long run,2026-06-13,2026-06-13,Fen,",
            f"{LONGEST.upper()},Long run,2026-06-14,2026-06-14,Fen,",
        ],
        "usage.csv": [
            "event,mat,state,counts_for,basis,hours_out,fold_cycles",
            *(f"{event},{mat},went,1,counted,5.5,2" for event in ("E-2026-01", "e-2026-01") for mat in MATS),
        ],
        "instruments.csv": ["instrument,standard_uncertainty_db", f"{BRIDGE},0.1", f"{OTHER_BRIDGE},0.15"],
        "measurements.csv": [
            "segment,measured_on,repeat,loss_db,frequency_mhz,temperature_c,instrument,taken,because,note", *readings,
        ],
        "policy.csv": [
            "setting,value,design,depot", "event_limit,120,,", "event_limit,100,four,", "event_limit,90,FOUR,",
            f"has_bench,1,,{DEPOT}", f"has_bench,0,,{OTHER_DEPOT}", "detection_goal,0.997,,",
        ],
    }  # fmt: skip


def loss_db(row, position, year):
    """A line a cable, some steeper than others, and a spread of a few hundredths."""
    spread = ((7 * row + 5 * year) % 11 - 5) * 0.012
    return 0.3 + 0.75 * LENGTHS_M[position - 1] + (0.1 + 0.04 * (row % 5)) * year * position / 2 + spread


def make():
    keeper = people.add_first_keeper("keeper", "muddy-hands-7")
    hand = people.add_person("hand", "bench hand", "muddy-hands-8")
    people.deactivate(people.add_person("gone", "visitor", "muddy-hands-9"), by=keeper)
    contents = {name: ("\n".join(lines) + "\n").encode() for name, lines in pool_files().items()}
    load_pool_files(contents, by=keeper, on=ON)
    keep_files(contents)
    log_season(hand, keeper)
    measure(hand)
    correct_and_withdraw(keeper)
    scheduling.reassess(None, on=ON)
    orders(hand)


def keep_files(contents):
    class Uploaded:
        name, size = "mats.csv", len(contents["mats.csv"])

        @staticmethod
        def read():
            return contents["mats.csv"]

    keep_upload([Uploaded])


def log_season(hand, keeper):
    group = MatGroup(1.2, (0.5, 0.9), ("T-1", "T-2"), date(2024, 4, 1), "about", times_a_year=7)
    lay_in(group, by=keeper, on=ON)
    mats = list(Mat.objects.filter(number__in=("M-1", "M-2")))
    weekly = events.add_event(by=hand, name="Park loop", starts_on=date(2026, 9, 5), place="Park")
    usage.log_event(weekly, {mat: usage.UsageValues("planned") for mat in mats}, by=hand, on=ON)
    rule = series.repeat_event(weekly, every_weeks=1, until=date(2026, 12, 19), by=hand, on=ON)
    series.end_series(rule, last_day=date(2026, 11, 28), by=keeper, on=ON, because="the park is closed in winter")
    usage.answer_event(weekly, "went", by=hand, on=ON)
    asked = Event.objects.get(starts_on=date(2026, 9, 12))
    usage.answer_event(asked, "called off", by=hand, on=ON)
    days = {"starts_on": date(2026, 7, 1), "ends_on": date(2026, 7, 28)}
    lent = events.add_event(by=hand, name="Lent to the hill club", **days)
    third = Mat.objects.get(number="M-3")
    usage.log_event(lent, {third: usage.UsageValues("planned", counts_for=4)}, by=hand, on=ON)
    take_back_loan(lent, {third: 5}, basis=UsageBasis.TOLD, by=hand, on=ON)
    one = usage.UsageEvent.objects.filter(event__code="E-2026-01").first()
    usage.correct_usage_event(one, by=keeper, on=ON, because="the steward wrote 3", fold_cycles=3)


def measure(hand):
    third, bridge = Mat.objects.get(number="M-3"), Instrument.objects.get(name=BRIDGE)
    there = [f.segment for f in third.fittings.filter(removed_on=None).order_by("position")]
    typed = [bench.TypedReading(there[0], 3.4), bench.TypedReading(there[1], None, note="wet through; “=A1”\nno light")]
    typed += [bench.TypedReading(there[2], 1.6), bench.TypedReading(there[3], 9.1)]
    kept = bench.record_readings(
        third, typed, by=hand, on=ON, measured_on=date(2026, 9, 20), instrument=bridge, temperature_c=14.5,
        measured_by="hand", because="suspect",
    )  # fmt: skip
    again = bench.TypedReading(there[0], 2.9, taken="after cleaning")
    bench.record_readings(third, [again], by=hand, on=ON, measured_on=date(2026, 9, 20), instrument=bridge)
    bench.mark_doubtful(kept[2], by=hand, on=ON, because="the lead was loose")
    bench.take_back_reading(kept[3], by=hand, on=ON, because="that was another mat's cable")
    settled = Measurement.objects.filter(segment__serial="C-2").first()
    bench.mark_doubtful(settled, by=hand, on=ON, because="looks low")
    settled.refresh_from_db()
    bench.clear_doubt(settled, by=hand, on=ON, because="measured again next day with the other bridge, same loss")


def correct_and_withdraw(keeper):
    by = {"by": keeper, "on": ON}
    old = register.add_depot(by=keeper, name="Upper Mill")
    register.withdraw_plain(old, because="sold", withdrawn_on=date(2026, 3, 1), **by)
    ninth = register.add_mat(number="M-9", design=MatDesign.objects.get(code="four"), **by)
    register.withdraw_mat(ninth, because="torn", **by)
    register.correct_mat(Mat.objects.get(number="M-2"), owner="hill club", because="lent for good", **by)
    register.correct_mat(Mat.objects.get(number="ü-1"), owner="bank club", because="asked them", **by)
    corrections.correct_alike([Mat.objects.get(number="M-3")], by=keeper, because="all of one club", owner="hill club")
    register.withdraw_segment(CableSegment.objects.get(serial="S-4"), because="crushed by a car", **by)
    second = register.add_cable_type(by=keeper, name="thick", db_per_m_400mhz=0.2, db_per_m_1000mhz=0.33)
    register.withdraw_plain(second, because="never bought", **by)
    thin = CableType.objects.get(name="thin")
    five = designs.add_design(by=keeper, code="five", width_m=2.5, lengths_m=[0.6], cable_type=thin)
    designs.strike_position(five.positions.get(), by=keeper, because="drawn by mistake")
    guessed = Fitting.objects.get(segment__serial="C-6")
    fittings.correct_fitting(guessed, fitted_basis="about", because="nobody wrote it down", **by)
    bench_old = instruments.add_instrument(name="old bridge", standard_uncertainty_db=0.3, by=keeper)
    instruments.withdraw_instrument(bench_old, because="dropped", **by)
    break_and_mend(by)
    change_policy([PolicyChange("age_limit_years", 4)], because="longer seasons", **by)
    change_policy([PolicyChange("look_ahead_days", 60)], because="a big autumn", **by)
    change_policy([PolicyChange("look_ahead_days", None)], because="back to the usual", **by)


def break_and_mend(by):
    first, second, third = (Mat.objects.get(number=number) for number in ("M-1", "M-2", "M-3"))
    august = {"place": "connector", "reported_on": date(2026, 8, 1), **by}
    green = faults.report_fault(second, position=1, what="green", **august)
    damp = faults.report_fault(second, position=2, **august)
    faults.end_fault(damp, ended_on=date(2026, 8, 9), ended_because=FaultEnd.NOTHING_FOUND, because="wiped dry", **by)
    faults.report_fault(first, place="cable", position=3, reported_on=date(2026, 9, 1), **by)
    faults.report_fault(third, place="cover or fold", reported_on=date(2026, 9, 2), what="a seam is open", **by)
    out = fittings.TakenOut(second.fittings.get(position=1, removed_on=None), "green connector")
    spare = CableSegment.objects.get(serial="S-1")
    fittings.fit_segment(spare, second, 1, fitted_on=date(2026, 8, 20), out=out, **by)
    green.refresh_from_db()
    assert green.ended_because == FaultEnd.CHANGE


def orders(hand):
    segments = {row["segment"]: row for row in due_report(ON, everything=True)["segments"]}
    now = {serial: row["mat"] for serial, row in segments.items() if row["standing"] == "change now"}
    for number in ("M-1", "M-3"):
        due = CableSegment.objects.filter(serial__in=[serial for serial, mat in now.items() if mat == number])
        (order,) = work_orders.raise_work_orders([segment.pk for segment in due], by=hand, on=ON)
    work_orders.withdraw_work_order(order, by=hand, on=ON, because="raised for the wrong mat")


def said():
    """What a pool restored from the back-up has to say again."""
    with export_zip() as stream, zipfile.ZipFile(stream) as archive:
        files = {name: archive.read(name).decode() for name in archive.namelist()}
    models = [model for model in apps.get_models() if model._meta.app_label in ("fleet", "inspections", "auth")]
    rows = {model._meta.label: model._base_manager.count() for model in models}
    return {"due": due_report(ON, everything=True), "files": files, "rows": rows}


if __name__ == "__main__":
    backup, spoken = map(Path, sys.argv[1:])
    call_command("migrate", verbosity=0)
    assert not User.objects.exists() and not Depot.objects.exists()
    make()
    spoken.write_text(json.dumps(said(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    make_backup(backup, at=datetime.fromisoformat("2026-09-30T18:04:00+02:00"))
