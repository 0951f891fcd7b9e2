"""What the record of a mat says, as data in words: no later correction, and no later version of the app, changes it."""

from collections import Counter
from dataclasses import asdict, dataclass
from datetime import date

from fleet.models import Fitting, Mat
from fleet.templatetags.lengths import length_in_m
from fleet.templatetags.serials import serial_in_words

from ..assessment.policy_in_force import current_policy
from ..bench.reading_selectors import ShownReading, readings_of_mat
from ..bench.worked_tables import worked_examples
from ..models import Assessment
from ..numeric.verdicts import SURE
from ..numeric.words import Status
from ..templatetags.cause_text import status_words
from ..templatetags.figures import counted, figure, risk, short_day, years_and_months
from ..templatetags.reason_text import newest_loss, why
from .gaps import what_it_does_not_show
from .ways import way_of

_STATUSES = (
    (Status.CHANGE_NOW, "to change now"),
    (Status.CHANGE_BEFORE, "to change before an event"),
    (Status.CHANGE_SOON, "to change soon"),
    (Status.MEASURE, "to measure"),
    (Status.UNKNOWN, "of which too little is known"),
    (Status.OK, "fit"),
)


@dataclass(frozen=True)
class Told:
    """Everything on record that a record of a mat tells of, read once. `from_on` None: from the beginning."""

    mat: Mat
    from_on: date | None
    on: date
    fittings: list[Fitting]
    rows: dict[int, Assessment]
    faults: list
    readings: list[ShownReading]

    def is_in_period(self, day):
        return day is not None and (self.from_on is None or self.from_on <= day) and day <= self.on

    @property
    def current(self):
        """Its fittings of today, by position."""
        return sorted((each for each in self.fittings if each.covers(self.on)), key=lambda each: each.position)

    @property
    def shown_readings(self):
        """Those of the period, and of each cable in place those of the day on which its newest verdict rests."""
        newest = {(row.segment_id, row.measured_on) for row in self.rows.values()}
        return [
            each
            for each in self.readings
            if self.is_in_period(each.reading.measured_on)
            or (each.reading.segment_id, each.reading.measured_on) in newest
        ]


def read_told(mat, from_on, on):
    """Told of a mat; as many queries for many cables and readings as for few."""
    rows = Assessment.objects.filter(mat=mat).select_related("segment__cable_type", "before_event")
    return Told(
        mat=mat,
        from_on=from_on,
        on=on,
        fittings=list(mat.fittings.select_related("segment__cable_type").order_by("fitted_on", "position")),
        rows={row.segment_id: row for row in rows},
        faults=list(mat.faults.filter(reported_on__lte=on).order_by("reported_on", "number")),
        readings=readings_of_mat(mat, on),
    )


def content_of(told):
    """What the record says, as JSON: strings and lists of them, so that a template has nothing to judge."""
    mat, design = told.mat, told.mat.design
    positions = [_position(told, fitting) for fitting in told.current]
    return {
        "mat": mat.number,
        "design": design.code,
        "width": f"{figure(design.width_m)} m" if design.width_m else "",
        "depot": mat.depot.name if mat.depot else "",
        "owner": mat.owner,
        "in_short": _in_short(told),
        "limits": _limits(mat),
        "positions": positions,
        "empty": _empty(told),
        "found": [_fault(fault) for fault in told.faults if _concerns(told, fault)],
        "changed": _changes(told),
        "readings": [_reading(each) for each in told.shown_readings],
        "worked": worked_examples(told.shown_readings),
        "not_shown": what_it_does_not_show(told),
    }


def _in_short(told):
    """How many cables are to be changed, to be measured, not known or fit, in one sentence."""
    statuses = Counter(row.status for row in told.rows.values())
    parts = [f"{statuses[status]} {word}" for status, word in _STATUSES if statuses[status]]
    return f"{counted(len(told.current), 'cable')}: {', '.join(parts)}." if parts else ""


def _limits(mat):
    """The limits in force for the mat, as sentences have them."""
    policy = current_policy()

    def value(name):
        return policy.value(name, design_id=mat.design_id)

    age, events = value("age_limit_years"), value("event_limit")
    return [
        f"loss {figure(value('loss_limit_db'))} dB at {figure(policy.value('reference_mhz'))} MHz and 20 °C",
        f"age {years_and_months(age)}" if age else "no limit of age",
        f"{figure(events)} events" if events else "no limit of events",
        f"accepted risk by trend {risk(value('accepted_risk'))} a cable",
        f"a reading is within or over where that is {risk(SURE)} sure, else undecided",
    ]


def _position(told, fitting):
    row, segment = told.rows.get(fitting.segment_id), fitting.segment
    event = row.before_event.name if row and row.before_event else ""
    return {
        "position": fitting.position,
        "cable": serial_in_words(segment),
        "length": length_in_m(segment),
        "fitted": f"{'' if fitting.known_day else f'{fitting.fitted_basis} '}{short_day(fitting.fitted_on)}",
        "loss": newest_loss(row) if row else "not measured",
        "verdict": row.verdict if row else "",
        "measured": short_day(row.measured_on) if row else "",
        "status": _to_do(row, event) if row else "not known",
        "status_word": row.status.value if row else "unknown",
        "due": short_day(row.due_on) if row else "",
        "why": why(row) if row else "",
    }


def _to_do(row, event):
    return "nothing" if row.status == Status.OK else str(status_words(row.status, event))


def _empty(told):
    filled = {fitting.position for fitting in told.current}
    return [place.number for place in told.mat.design.positions.all() if place.number not in filled]


def _concerns(told, fault):
    """Reported or ended in the period, or still open."""
    return fault.ended_on is None or told.is_in_period(fault.reported_on) or told.is_in_period(fault.ended_on)


def _fault(fault):
    end = f"ended {short_day(fault.ended_on)}: {fault.end_reason}" if fault.ended_on else "still open"
    return {"day": short_day(fault.reported_on), "where": fault.where, "what": fault.what, "end": end}


def _changes(told):
    """What went in and came out in the period, by day and position."""
    # of one day what came out stands before what went in its place
    went_in = [(each.fitted_on, each.position, "put in", each, "") for each in told.fittings]
    came_out = [(each.removed_on, each.position, "taken out", each, each.removal_reason) for each in told.fittings]
    listed = [each for each in (*went_in, *came_out) if told.is_in_period(each[0])]
    return [
        {"day": short_day(day), "position": position, "way": way, "cable": serial_in_words(each.segment), "why": reason}
        for day, position, way, each, reason in sorted(
            listed, key=lambda change: (-change[0].toordinal(), change[1], change[2] != "taken out")
        )
    ]


def _reading(shown):
    reading = shown.reading
    return asdict(way_of(reading, shown.judgement)) | {
        "day": short_day(reading.measured_on),
        "position": shown.position,
        "cable": serial_in_words(reading.segment),
        "taken": f"{reading.taken}{f', repeat {reading.repeat}' if reading.repeat > 1 else ''}",
        "instrument": str(reading.instrument or "instrument not recorded"),
        "by": str(reading.measured_by or reading.recorded_by or "not recorded"),
        "void": f"void: {reading.void_reason}" if shown.is_void else "",
        "doubt": f"doubtful: {reading.doubt_reason}" if reading.doubt_reason else "",
    }
