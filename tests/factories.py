"""Rows with honest defaults for tests: each call makes one thing and what it needs."""

import hashlib
import math
from datetime import date, timedelta
from decimal import Decimal
from itertools import count

from django.contrib.auth.models import Group, User
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.utils import timezone

from fleet.choices import AccountAct
from fleet.models import (
    AccountChange,
    CableSegment,
    CableType,
    Depot,
    DesignPosition,
    Event,
    EventSeries,
    Fault,
    FaultPhoto,
    Fitting,
    LogLink,
    Mat,
    MatDesign,
    Note,
    Price,
    UsageEvent,
)
from fleet.models.accounts import hash_of
from fleet.models.photos import photo_file_name
from fleet.models.stock import Pile
from fleet.services.notes import ABOUT
from fleet.services.settling import UsageValues
from fleet.services.shelf import receive_cables
from fleet.services.usage import log_event
from inspections.assessment.services import assess_pool
from inspections.choices import SizeRule
from inspections.length_limits.proposal_services import Proposed
from inspections.length_limits.services import PositionLimit
from inspections.length_limits.use_services import use_limits
from inspections.models import (
    AgreedValue,
    Batch,
    BatchValue,
    BenchDaySaid,
    Instrument,
    MatRecord,
    Measurement,
    ReferencePiece,
    ReferenceReading,
    Sample,
    Sweep,
)
from inspections.policy.services import PolicyChange, change_policy
from inspections.sweep_files import keep_sweep_file

_number = count(1)
FITTED_ON = date(2025, 3, 1)


def make_person(name="keeper", role="keeper", password="muddy-hands-7"):
    person = User.objects.create_user(name, password=password)
    person.groups.add(Group.objects.get(name=role))
    AccountChange.objects.create(account=person, act=AccountAct.MADE, detail=role)
    return person


def make_link(account=None, name="gate phone", secret="a-secret", days=7, **values):
    """A link for phones that works so many days more, today not counted."""
    account = account or make_person(f"{name.replace(' ', '-')}-{next(_number)}", role="log")
    values = {"made_by": account, "ends_on": timezone.localdate() + timedelta(days=days), **values}
    return LogLink.objects.create(account=account, name=name, secret_hash=hash_of(secret), **values)


def make_depot(name=None):
    return Depot.objects.create(name=name or f"Depot {next(_number)}")


def make_cable_type(name=None, **values):
    values = {"db_per_m_400mhz": 0.38, "db_per_m_1000mhz": 0.62, **values}
    return CableType.objects.create(name=name or f"thin {next(_number)}", **values)


def make_price(cable_type=None, length_m=None, price="12.50", *, design=None, **values):
    """Of one length, of any length of a type, or of the set of a design."""
    price = None if price is None else Decimal(price)
    return Price.objects.create(cable_type=cable_type, length_m=length_m, design=design, price=price, **values)


def make_design(code=None, lengths_m=(0.6, 1.1, 1.6, 2.1), cable_type=None, **values):
    values = {"width_m": 2.0, "folds_m": [0.5, 1.0, 1.5], "weight_kg": 11.5, **values}
    design = MatDesign.objects.create(code=code or f"design {next(_number)}", **values)
    cable_type = cable_type or make_cable_type()
    for number, length_m in enumerate(lengths_m, 1):
        DesignPosition.objects.create(design=design, number=number, length_m=length_m, cable_type=cable_type)
    return design


def make_mat(number=None, design=None, fitted=False, fitted_on=FITTED_ON, **values):
    """A mat; `fitted=True` puts a new segment into each of its positions on `fitted_on`."""
    mat = Mat.objects.create(number=number or f"M-{next(_number):03d}", design=design or make_design(), **values)
    if fitted:
        for position in mat.design.positions.all():
            fit(make_segment(position.length_m, cable_type=position.cable_type), mat, position.number, fitted_on)
    return mat


def make_segment(length_m=1.6, serial=None, cable_type=None, **values):
    return CableSegment.objects.create(
        serial=serial or f"C-{next(_number):05d}",
        cable_type=cable_type or make_cable_type(),
        length_m=length_m,
        **values,
    )


def fit(segment, mat, position=1, fitted_on=FITTED_ON, removed_on=None, **values):
    return Fitting.objects.create(
        segment=segment, mat=mat, position=position, fitted_on=fitted_on, removed_on=removed_on, **values
    )


def _alike():
    return CableType.objects.filter(name="alike").first() or make_cable_type("alike")


def make_plain_design(positions=4):
    """A design into whose positions every `make_plain_segment` goes without a question."""
    return make_design(lengths_m=(1.0,) * positions, cable_type=_alike())


def make_plain_mat(design=None, **values):
    return make_mat(design=design or make_plain_design(), **values)


def make_due_mat(positions, on):
    """M-1, all of whose cables are due by age on that day; assessed."""
    mat = make_plain_mat(make_plain_design(positions), number="M-1", fitted=True, fitted_on=on - timedelta(days=2000))
    assess_pool(on)
    return mat


def make_plain_segment(**values):
    return make_segment(1.0, cable_type=_alike(), **values)


def make_many_cables(mats, each):
    """So many mats with so many fitted cables each, in a handful of queries; returns the keys of the cables."""
    design, alike, number = make_plain_design(each), _alike(), next(_number)
    mats = Mat.objects.bulk_create(Mat(number=f"X-{number}-{n}", design=design) for n in range(mats))
    places = [(mat, position) for mat in mats for position in range(1, each + 1)]
    cables = CableSegment.objects.bulk_create(
        CableSegment(serial=f"{mat}-{position}", cable_type=alike, length_m=1.0) for mat, position in places
    )
    Fitting.objects.bulk_create(
        Fitting(segment=cable, mat=mat, position=position, fitted_on=FITTED_ON)
        for cable, (mat, position) in zip(cables, places, strict=True)
    )
    return [cable.pk for cable in cables]


def make_event(starts_on=date(2026, 5, 2), days=1, code=None, **values):
    code = code or f"E-{next(_number):04d}"
    values = {"name": f"Run {code}", "ends_on": starts_on + timedelta(days=days - 1), **values}
    return Event.objects.create(code=code, starts_on=starts_on, **values)


def make_series(starts_on=date(2026, 5, 2), weeks=4, **values):
    """A weekly rule; the events of it are made apart."""
    number = next(_number)
    values = {
        "code": f"S-{number:03d}",
        "name": f"Series {number}",
        "until": starts_on + timedelta(weeks=weeks),
        **values,
    }
    return EventSeries.objects.create(starts_on=starts_on, **values)


def make_usage_event(mat, event=None, state="went", **values):
    return UsageEvent.objects.create(mat=mat, event=event or make_event(), state=state, **values)


def log_usage_event(mat, event, *, by, on, confirmed="", **values):
    """One mat at one event, logged as a person does; `values` are those of UsageValues."""
    log_event(event, {mat: UsageValues(**values)}, by=by, on=on, confirmed=confirmed)
    return event.usage_events.get(mat=mat)


def make_fault(mat, place="cable", position=1, reported_on=date(2026, 5, 3), **values):
    return Fault.objects.create(mat=mat, place=place, position=position, reported_on=reported_on, **values)


def make_photo(fault, content=None, **values):
    """A photo with its file, where the test gives what is in it."""
    sha256 = hashlib.sha256(content or b"no file").hexdigest()
    if content is not None:
        storages["photos"].save(photo_file_name(sha256), ContentFile(content))
    return FaultPhoto.objects.create(fault=fault, sha256=sha256, **values)


def make_note(subject, text="drops on the left side", noted_on=date(2026, 5, 3), **values):
    """A note on a mat, a cable segment or an event."""
    about = ABOUT[type(subject)]
    values = {"code": f"N-{next(_number):05d}", "about": about, about.value: subject, **values}
    return Note.objects.create(text=text, noted_on=noted_on, **values)


def make_instrument(name=None, standard_uncertainty_db=0.1, **values):
    return Instrument.objects.create(
        name=name or f"bridge {next(_number)}", standard_uncertainty_db=standard_uncertainty_db, **values
    )


def make_tester(set_limit_db=3.0, name=None):
    """A go/no-go tester that is set to that loss; None: nobody said to which."""
    return make_instrument(name, None, kind="go/no-go", set_limit_db=set_limit_db)


def make_reading(segment, loss_db=1.31, measured_on=date(2026, 5, 5), **values):
    """`loss_db=None` is *no signal*, unless `go_no_go` says what a tester said."""
    loss_db = None if values.get("go_no_go") else loss_db
    values = {"no_signal": loss_db is None and not values.get("go_no_go"), **values}
    return Measurement.objects.create(segment=segment, loss_db=loss_db, measured_on=measured_on, **values)


def make_piece(name=None, agreed_db=1.42, uncertainty_db=0.02, agreed_on=FITTED_ON, **values):
    """A reference piece with one agreed value; `agreed_db=None`: not agreed yet."""
    piece = ReferencePiece.objects.create(name=name or f"Q-{next(_number)}", **values)
    uncertainty_db = None if agreed_db is None else uncertainty_db
    AgreedValue.objects.create(
        piece=piece, agreed_on=agreed_on, agreed_loss_db=agreed_db, uncertainty_db=uncertainty_db
    )
    return piece


def make_pile(cable_type=None, length_m=0.6, depot=None, count=8, lot="L-7", **values):
    """So many cables without a serial on the shelf; returns their `Pile`."""
    pile = Pile(cable_type or make_cable_type(), length_m, depot, lot)
    today = timezone.localdate()
    receive_cables(pile, count, by=None, on=today, **{"day": today} | values)
    return pile


def make_piece_reading(piece, loss_db=1.42, measured_on=date(2026, 5, 5), **values):
    repeat = piece.readings.filter(measured_on=measured_on).count() + 1
    return ReferenceReading.objects.create(
        piece=piece, loss_db=loss_db, measured_on=measured_on, **{"repeat": repeat, **values}
    )


def say_of_bench_day(measured_on=date(2026, 5, 5), instrument=None, **values):
    """What people said of a bench day; `looked_on`, `found`, `not_trusted_reason`."""
    return BenchDaySaid.objects.create(measured_on=measured_on, instrument=instrument, **values)


def make_sweep(segment, measured_on=date(2026, 5, 5), **values):
    """A kept sweep of two points with its reading, and with its file in the data folder."""
    content = f"! {segment}\n# MHz S DB R 50\n890 -30 0 -1.3 0 -1.3 0 -30 0\n900 -30 0 -1.31 0 -1.31 0 -30 0\n".encode()
    reading = make_reading(segment, measured_on=measured_on, method="through", repeat=9)
    known = {"kind": "Touchstone 1", "points": 2, "from_mhz": 890, "to_mhz": 900, "loss_db": 1.31, "at_mhz": 900}
    values = {"file_name": f"{segment}.s2p", "method": "through", "reading": reading} | known | values
    file = {"sha256": keep_sweep_file(content), "size_bytes": len(content)}
    return Sweep.objects.create(segment=segment, measured_on=measured_on, **file, **values)


def set_policy_value(setting, value, *, design=None, position=None, depot=None, by, on, reason="", seen_version=None):
    """One value at a time; returns what `change_policy` does."""
    change = PolicyChange(setting, value, design, depot, seen_version, position=position)
    return change_policy([change], by=by, on=on, reason=reason)


def make_proposed(design, years=2.0, seen=(0, None)):
    """What the policy would take for position 1 of a design, of which nothing was observed."""
    length_m, unknown = design.positions.get(number=1).length_m, [math.nan] * 4
    row = PositionLimit(design, 1, length_m, 0.05, "years", 3.0, years, years, years, *unknown, 0, 0, 0.0)
    return Proposed(row, years, None, PolicyChange("age_limit_years", years, design, None, *seen, position=1))


def make_used_limits(design, on=date(2026, 9, 1), by=None):
    """A position of the design got a limit by length."""
    return use_limits([make_proposed(design)], wear_clock="years", by=by, on=on, reason="limits by length")


def make_batch(number=None, cable_type=None, **values):
    """Open, of new cables of 2 m, measured today."""
    values = {"length_m": 2.0, "measured_on": timezone.localdate(), "lot": "L-7", "method": "through", **values}
    number = number or f"B-2026-{next(_number)}"
    return Batch.objects.create(number=number, cable_type=cable_type or make_cable_type(), **values)


def make_batch_value(batch, loss_db=1.31, cable=1, **values):
    return BatchValue.objects.create(batch=batch, cable=cable, loss_db=loss_db, **values)


def make_mat_record(number, **values):
    return MatRecord.objects.create(number=number, mat=make_mat(), until_on=date(2026, 5, 5), **values)


def make_sample(number, **values):
    """Of no mats: for what asks for the row alone."""
    values = {"drawn_on": date(2026, 5, 5), "rule": SizeRule.TYPED, "size": 1, "seed": 1, "frame": {}} | values
    return Sample.objects.create(number=number, **values)
