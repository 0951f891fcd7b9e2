"""The cables of one mat changed: fitted, taken out, measured, and what that answers, in one transaction."""

from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.choices import FaultEnd, FittedBasis, SerialBasis
from fleet.figures import two_places
from fleet.models import CableSegment, Fitting
from fleet.selectors.numbering import next_free_serials
from fleet.services.arrivals import Arrival
from fleet.services.confirmation import WantsConfirmation
from fleet.services.faults import end_fault
from fleet.services.fittings import Fit, Fitted, TakenOut, fit_segments
from fleet.services.locks import hold_pool
from fleet.services.register import add_segment, segment_for
from fleet.services.rows import check_day

from ..assessment.bench_day_selectors import withheld_on
from ..bench.fresh_selectors import fresh_losses, judged_as_new
from ..bench.services import TypedReading, record_readings
from ..bench.verdicts import criteria_of_design
from ..choices import MeasurementReason, Taken
from ..models import Instrument
from ..validators import TypedLoss

NO_DAY_TO_READ = "A reading needs its day, and the day is known roughly only. Write the day, or leave the losses out."
WAYS_OUT = "Clean and measure again, take another cable, or let a keeper keep it with a reason."


@dataclass(frozen=True)
class GoesIn:
    """A cable on record; without `segment` a new one, by its own `serial`, or with a number that the app gives it."""

    segment: CableSegment | None = None
    serial: str = ""
    lot: str = ""


@dataclass(frozen=True)
class Change:
    """What is done in one position. `new` None: it stays empty; `out` None: it was empty.

    `new_loss` and `old_loss`: what the new cable reads, and the old one as it comes out. `kept_because`: why a new one
    is kept that is over the limit or reads more than a fresh one.
    """

    position: int
    new: GoesIn | None
    out: TakenOut | None = None
    new_loss: TypedLoss | None = None
    old_loss: TypedLoss | None = None
    kept_because: str = ""
    torque_nm: float | None = None
    end_test: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Bench:
    """What holds for all readings of a change."""

    instrument: Instrument | None = None
    frequency_mhz: float | None = None
    temperature_c: float | None = None
    measured_by: str = ""
    method: str = ""


@dataclass(frozen=True)
class Changed:
    """What was done: a `Fitted` for each position, how many readings were stored, and the serials that the app gave."""

    done: list[Fitted]
    readings: int
    given: dict[int, str]


@transaction.atomic
def change_cables(
    mat, changes, *, by, on, changed_on, basis=FittedBasis.KNOWN, bench=None, faults=(), confirmed=None, work_order=""
):
    """Change cables of a mat on one day, all or none; returns `Changed`.

    A new cable is one of those that are counted on the shelf without a serial, where such lie there. `faults` of the
    mat end with this change, beside those of the cables themselves. `work_order`: its number, for the ledger.
    Raises WantsConfirmation for a serial that is not on record, a cable that stands elsewhere, and what `fit_segments`
    asks about; `confirmed` None: nobody is there to be asked. Raises ValidationError for a new cable that is not good
    and not `kept_because`, where new ones lie there from several lots and none is named, and for all that
    `fit_segments` and `record_readings` refuse.
    """
    hold_pool()
    check_day("changed_on", changed_on, on, "day of the change")
    if not changes:
        raise ValidationError("Tick at least one position that is changed.", code="empty")
    _check_readings(changes, basis)
    bench = bench or Bench()
    specified = {place.number: place for place in mat.design.positions.select_related("cable_type")}
    changes, given = _with_segments(mat, changes, specified, by, on)
    elsewhere = _places_elsewhere(changes, changed_on)
    _ask(mat, changes, given, elsewhere, confirmed)
    _refuse_bad_ones(mat, changes, bench, changed_on, on)
    head = {"by": by, "on": on, "measured_on": changed_on} | vars(bench)
    old = [TypedReading(row.out.fitting.segment, row.old_loss) for row in changes if row.old_loss]
    new = _new_readings(changes)
    stored = record_readings(mat, old, **head) if old else []
    fits = [_fit(row, elsewhere) for row in changes]
    given_on = {"fitted_on": changed_on, "basis": basis, "confirmed": confirmed, "work_order": work_order}
    done = fit_segments(mat, fits, by=by, on=on, **given_on)
    for reason, readings in new.items():
        stored = stored + record_readings(mat, readings, reason=reason, **head)
    for fault in faults:
        end_fault(
            fault, by=by, on=on, ended_on=changed_on, end_reason=FaultEnd.CHANGE, reason="the cables were changed"
        )
    return Changed(done, len(stored), {row.position: row.new.segment.serial for row in given})


def _check_readings(changes, basis):
    if basis != FittedBasis.KNOWN and any(row.new_loss or row.old_loss for row in changes):
        raise ValidationError({"basis": NO_DAY_TO_READ})
    for row in changes:
        if row.new_loss and row.new is None:
            raise ValidationError(f"Position {row.position} stays empty: there is no new cable to measure.")
        if row.old_loss and row.out is None:
            raise ValidationError(f"Position {row.position} was empty: there is no old cable to measure.")


def _with_segments(mat, changes, specified, by, on):
    """(changes, each with its segment; those of them whose serial the app gave): new segments are added."""
    added = [row for row in changes if row.new and row.new.segment is None]
    serials = iter(next_free_serials(sum(not row.new.serial for row in added)))
    made = {}
    for row in added:
        place = specified.get(row.position)
        if place is None:
            raise ValidationError(f"{mat.at_start} has no position {row.position}: its design has none of that number.")
        segment = add_segment(
            by=by,
            on=on,
            arrival=Arrival(mat.depot, counted=None),
            **segment_for(
                place,
                serial=row.new.serial or next(serials),
                serial_basis=SerialBasis.OWN if row.new.serial else SerialBasis.GIVEN,
                lot=row.new.lot,
            ),
        )
        made[row.position] = replace(row, new=replace(row.new, segment=segment))
    given = [made[row.position] for row in added if not row.new.serial]
    return [made.get(row.position, row) for row in changes], given


def _places_elsewhere(changes, day):
    """{segment's key: the fitting that it is in}, of those that go in and do not come out by these changes."""
    going_in = [row.new.segment.pk for row in changes if row.new]
    coming_out = [row.out.fitting.pk for row in changes if row.out]
    fittings = Fitting.objects.filter(segment__in=going_in, removed_on=None, fitted_on__lte=day).exclude(
        pk__in=coming_out
    )
    return {fitting.segment_id: fitting for fitting in fittings.select_related("segment", "mat")}


def _ask(mat, changes, given, elsewhere, confirmed):
    """About serials that are not on record, and cables that stand elsewhere."""
    by_app = {row.position for row in given}
    sentences = []
    for row in changes:
        segment = row.new and row.new.segment
        if row.new and row.new.serial and row.position not in by_app:
            sentences.append(
                f"Position {row.position}: there is no cable {segment} in the register yet. "
                f"It is added as {two_places(segment.length_m)} m of {segment.cable_type}."
            )
        elif segment and segment.pk in elsewhere:
            place = elsewhere[segment.pk]
            sentences.append(
                f"Position {row.position}: {segment} is in {place.mat} position {place.position} since {place.since}. "
                "It comes out there, and that position stays empty."
            )
    if sentences and confirmed is not None:
        message = "Look at these cables. Correct them, or say that it is meant."
        WantsConfirmation(message, "cables", [str(mat), *sentences], points=sentences).raise_unless(confirmed)


def _refuse_bad_ones(mat, changes, bench, changed_on, on):
    """A new cable is judged twice; a form says it in the row of the cable, this stands behind every form."""
    read = [row for row in changes if row.new_loss and not row.kept_because.strip()]
    judge = new_judge(mat, [row.new.segment for row in read], bench, changed_on, on)
    stopped = [f"{row.new.segment}" for row in read if judge(row.new.segment, row.new_loss).stops]
    if stopped:
        raise ValidationError(f"Not fit to go in: {', '.join(stopped)}. {WAYS_OUT}", code="unfit")


def new_judge(mat, segments, bench, day, on):
    """A function of a segment, or the position that is like it, and a TypedLoss: its `FreshJudgement`.

    `day`: on which it is measured; None: not known yet.
    """
    criteria = criteria_of_design(mat.design_id)
    fresh = fresh_losses([(segment.cable_type, segment.length_m) for segment in segments], criteria, on)
    bench_day = day, bench.instrument and bench.instrument.pk
    withheld = withheld_on(on, [bench_day] if day else []).get(bench_day)

    def judge(segment, loss):
        judgement = criteria.judge(loss, bench.frequency_mhz, bench.temperature_c, bench.instrument, bench.method)
        return judged_as_new(judgement.withheld_for(withheld), fresh[segment.cable_type, segment.length_m])

    return judge


def _new_readings(changes):
    """{why it is measured: readings} of the cables that go in; one that was in a mat before is not new."""
    read = [row for row in changes if row.new_loss]
    used = set(Fitting.objects.filter(segment__in=[row.new.segment for row in read]).values_list("segment", flat=True))
    readings = {}
    for row in read:
        reason = MeasurementReason.ROUTINE if row.new.segment.pk in used else MeasurementReason.NEW
        readings.setdefault(reason, []).append(_new_reading(row))
    return readings


def _new_reading(row):
    because = row.kept_because.strip()
    return TypedReading(row.new.segment, row.new_loss, Taken.AT_FITTING, f"kept: {because}" if because else "")


def _fit(row, elsewhere):
    segment = row.new and row.new.segment
    place = segment and elsewhere.get(segment.pk)
    return Fit(
        position=row.position,
        segment=segment,
        out=row.out,
        move=place is not None,
        moves=place and place.pk,
        torque_nm=row.torque_nm,
        end_test=row.end_test,
        remark=row.remark,
    )
