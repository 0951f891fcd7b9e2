"""The pool of `stress.py`: filled once, looked through after every blow. Imported once Django is set up."""

from collections import Counter

from django.db import transaction
from factories import make_cable_type, make_depot, make_design, make_mat, make_person, make_pile
from invariant_assessments import assessments_are_fresh, new_bench_days_are_fresh
from invariant_shelf import every_spare_is_in_the_ledger, ledger_counts_right, shelf_is_what_the_ledger_says

from fleet.models import CableSegment, Event, Fitting, MatDay, StockEntry, Submission, UsageEvent
from fleet.services.shelf_of_segments import follow_whole_register
from inspections.assessment.services import assess_pool
from inspections.models import Measurement, WorkOrder, WorkOrderLine

POSITIONS = 4
MATS_EACH = 2
EVENT_DAYS = 2
# how the name of each act of signing off begins
SIGN_OFF = "order "
PASSWORD = "muddy-hands-7"
# cables without a serial that each writer has at a depot, and where they are on the shelf
BOX, BOX_LENGTH_M = 10_000, 2.0
KIND = f"/shelf/kinds/thin/{BOX_LENGTH_M:g}/"


def fill(writers, spares_each, on):
    """A keeper for each writer, with two mats, spares and a box of their own; boxes have the first entries."""
    cable_type = make_cable_type("thin")
    design = make_design("four", lengths_m=(1.0,) * POSITIONS, cable_type=cable_type)
    for writer in range(writers):
        make_pile(cable_type, BOX_LENGTH_M, make_depot(f"D-{writer}"), BOX, f"box {writer}")
    for writer in range(writers):
        make_person(f"keeper{writer}")
        for number in range(MATS_EACH):
            make_mat(f"H-{writer}-{number}", design=design, fitted=True)
        CableSegment.objects.bulk_create(
            CableSegment(serial=f"S-{writer}-{number}", cable_type=cable_type, length_m=1.0)
            for number in range(spares_each)
        )
    with transaction.atomic():
        follow_whole_register(by=None, on=on, note="a spare")
    assess_pool(on)


def halves(on):
    """What is there by half, as sentences; an empty list is what is hoped for."""
    return [
        *half_events(),
        *half_benches(),
        *half_fittings(),
        *half_orders(),
        *half_forms(),
        *half_moves(),
        *ledger_counts_right(on),
        *shelf_is_what_the_ledger_says(on),
        *every_spare_is_in_the_ledger(on),
        *assessments_are_fresh(),
        *new_bench_days_are_fresh(),
    ]


def half_events():
    mats = Counter(UsageEvent.objects.values_list("event__name", flat=True))
    days = Counter(MatDay.objects.values_list("usage_event__event__name", flat=True))
    for name in Event.objects.values_list("name", flat=True):
        if (mats[name], days[name]) != (MATS_EACH, MATS_EACH * EVENT_DAYS):
            yield f"event {name}: {mats[name]} mats, {days[name]} days of mats"


def half_benches():
    told = lines_told()
    for act, readings in Counter(Measurement.objects.values_list("measured_by", flat=True)).items():
        if readings != (told[act] if act.startswith(SIGN_OFF) else POSITIONS):
            yield f"bench {act}: {readings} readings"


def half_fittings():
    """Each position holds one; all others came out by the act that put the next one in."""
    held = Counter(Fitting.objects.filter(removed_on=None).values_list("mat__number", "position"))
    for place in set(Fitting.objects.values_list("mat__number", "position")):
        if held[place] != 1:
            yield f"position {place}: holds {held[place]}"
    came_out = Counter(Fitting.objects.exclude(removed_on=None).values_list("removal_reason", flat=True))
    told = lines_told()
    for act, number in came_out.items():
        if number != (told[act] if act.startswith(SIGN_OFF) else 1):
            yield f"fitting {act}: {number} came out"


def lines_told():
    """{act: how many lines of work orders it answered}"""
    return Counter(WorkOrderLine.objects.exclude(done_on=None).values_list("answered_by", flat=True))


def half_orders():
    for order in WorkOrder.objects.prefetch_related("lines"):
        if order.lines.count() != POSITIONS:
            yield f"work order {order}: {order.lines.count()} lines"
        if order.signed_on and order.lines.filter(done_on=None).exists():
            yield f"work order {order}: signed off with a line that is not done"


def half_moves():
    """What leaves a place of the shelf comes to another one."""
    for act, number in Counter(StockEntry.objects.filter(reason="moved").values_list("note", flat=True)).items():
        if number != 2:
            yield f"move {act}: {number} entries of the ledger"


def half_forms():
    for submission in Submission.objects.filter(answer_url=""):
        yield f"form {submission}: no answer"


def kept_acts():
    """(kind, act) of everything that is there, each as often as it is there."""
    kept = Counter(("event", name) for name in Event.objects.values_list("name", flat=True))
    benches = Measurement.objects.exclude(measured_by__startswith=SIGN_OFF).values_list("measured_by", flat=True)
    kept.update({("bench", act): 1 for act in benches})
    out = Fitting.objects.exclude(removed_on=None).exclude(removal_reason__startswith=SIGN_OFF)
    kept.update(("fit", act) for act in out.values_list("removal_reason", flat=True))
    signed = WorkOrder.objects.exclude(signed_on=None).values_list("signed_by", flat=True)
    kept.update(("sign", act) for act in signed)
    kept.update(("order", number) for number in WorkOrder.objects.values_list("number", flat=True))
    withdrawn = WorkOrder.objects.exclude(withdrawn_on=None).values_list("withdrawal_reason", flat=True)
    kept.update(("withdraw", reason) for reason in withdrawn)
    moved = StockEntry.objects.filter(reason="moved", change=-1).values_list("note", flat=True)
    kept.update(("move", act) for act in moved)
    return kept
