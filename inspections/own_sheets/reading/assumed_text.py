"""What the app assumed of the sheets, a sentence each."""

from fleet.figures import short_day
from fleet.models.mats import mat_name
from fleet.parsing.counts import counted, listed

from .. import meanings as field
from ..understood import Assumed, Assumption, RoughDay

MOST_NAMED = 6
_SENTENCES = {
    Assumption.SAME_MAT: "The sheet writes numbers of mats in another way than the pool: {names}.",
    Assumption.DEPOT: "New as a depot: {names}. One that is written in two ways would be two.",
    Assumption.TAKEN_BUILD: "“{name}” of the sheet is taken for the design {code}, which is made so.",
    Assumption.NEW_BUILD: "New build “{code}” with {positions}{called}.",
    Assumption.ESTIMATED_LENGTHS: (
        "Nobody said how long the cables of {names} are. Assumed: evenly from {shortest_m:g} to {longest_m:g} m. "
        "They are kept as estimates."
    ),
    Assumption.NO_LENGTHS: (
        "Nobody said how many cables there are in {names}, and how long: such mats come in without cables."
    ),
    Assumption.NO_BUILD: "Of {names} no build is known: say it on the page of the mat. Until then no cable is in it.",
    Assumption.CABLE_TYPE: (
        "Cable type {names} is new. What it loses a metre is assumed as for 2.5 mm coax: correct it on its page."
    ),
    Assumption.MADE_CABLES: (
        "Where no cable of {names} is named, each position of the build gets one, with a running number of the app."
    ),
    Assumption.OUT_OF_USE: (
        "Out of use: {names}. No cable is made for what is out of use, and what the sheet says of such cables is kept "
        "as a note."
    ),
    Assumption.NOT_LATER: (
        "When the cables of {names} were fitted is not known: not later than their first reading, or today."
    ),
    Assumption.RUNNING_NUMBERS: "No serial is named for {cables}: running numbers of the app are given.",
    Assumption.TAKEN_PLACES: (
        "Of {cables} that the app made nothing else is known, and the sheet names others in their places: {names}. "
        "What was made is corrected to what the sheet says, with readings that it has."
    ),
    Assumption.POSITIONS: "The cables of {names} are counted in the order of the sheet: the first is in position 1.",
    Assumption.CHANGED_CABLES: "The cables of {names} were changed: those that were there come out, new ones are in.",
    Assumption.SAME_CABLES: (
        "Since when the cables of {names} are in is not known: older readings are taken as those of the same cables."
    ),
    Assumption.EARLIER_CABLES: (
        "Readings of {names} are older than their cables: they belong to those that were there before, "
        "which get running numbers."
    ),
    Assumption.THROWN_AWAY: "What came out of {names} was thrown away: it does not count as a spare.",
    Assumption.LEFT_CABLES: (
        "Of {names} another day of fitting is on record than the sheet says. It stays: correct it on the mat’s page."
    ),
    Assumption.WET: "“Wet” is kept as rain, {times}.",
    Assumption.USUAL: "Marks below a month are usual use of {names}. They give way to events logged in that month.",
    Assumption.LEFT_OUT: "Left out, because marks below a month that is still ahead name no day: {names}.",
    Assumption.INSTRUMENT: (
        "Instrument {names} is new. Its uncertainty is assumed to be the usual one of the pool: correct it on its page."
    ),
}
# whose names are numbers of mats
_MATS = {
    *(Assumption.NO_BUILD, Assumption.MADE_CABLES, Assumption.NOT_LATER, Assumption.POSITIONS, Assumption.USUAL),
    *(Assumption.CHANGED_CABLES, Assumption.SAME_CABLES, Assumption.EARLIER_CABLES, Assumption.THROWN_AWAY),
    Assumption.LEFT_CABLES,
    Assumption.OUT_OF_USE,
}
# of what a rough day is, by the field that says it
_OF_WHAT = {
    field.CABLES_CHANGED: "cables changed",
    field.FITTED: "cable fitted",
    field.ACQUIRED: "mat bought",
    field.WITHDRAWN: "mat taken out of use",
    field.REMOVED: "cable taken out",
    field.STARTS: "event",
    field.USE_BY_HEADING: "event in a calendar",
    field.DAY: "reading",
}


def sentence(assumed: Assumed):
    """The assumption as one sentence or two, with the first few of those that it holds of."""
    values = assumed.values
    names = _of_mats(values["names"]) if assumed.what in _MATS else values["names"]
    words = {"names": _named(names), "cables": counted(assumed.count, "cable")}
    words["times"] = "once" if assumed.count == 1 else f"{assumed.count} times"
    if assumed.what is Assumption.NEW_BUILD:
        words |= _of_build(**values)
    said = _SENTENCES[assumed.what].format(**(values | words))
    return said[0].upper() + said[1:]


def rough_day_in_words(rough: RoughDay):
    """The cells of a line that says what a rough day becomes, by what each tells."""
    stored = f"about {short_day(rough.day)}" if rough.about else short_day(rough.day)
    stored += ", with a note" if rough.noted else ""
    return {
        "text": rough.text,
        "of_what": _OF_WHAT[rough.field],
        "stored": stored,
        "between": f"{short_day(rough.first)} to {short_day(rough.last)}",
        "names": _named(_NAMES[rough.field](rough.names)),
    }


def _of_build(name, code, positions, names):
    called = f", called “{name}” in the sheet" if name and name != code else ""
    return {"positions": counted(positions, "cable") if positions else "no cables yet", "called": called}


def _named(names):
    """Of many the first few."""
    if len(names) > MOST_NAMED:
        return listed([*names[: MOST_NAMED - 1], f"{len(names) - MOST_NAMED + 1} more"])
    return listed(names)


def _of_mats(names):
    return [mat_name(name) for name in names]


def _of_cables(names):
    return [f"cable {name}" if name.isdigit() else name for name in names]


# how those are named of whom a rough day is said
_NAMES = {
    **dict.fromkeys([field.CABLES_CHANGED, field.ACQUIRED, field.WITHDRAWN], _of_mats),
    **dict.fromkeys([field.FITTED, field.REMOVED, field.DAY], _of_cables),
    **dict.fromkeys([field.STARTS, field.USE_BY_HEADING], list),
}
