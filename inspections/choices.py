"""The words and the policy settings that inspections may hold; those of the rules stand in numeric/words.py."""

from dataclasses import dataclass

from django.db.models import TextChoices

from .numeric.words import Clock


class Taken(TextChoices):
    AS_FOUND = "as found"
    AFTER_CLEANING = "after cleaning"
    AT_FITTING = "at fitting"


class MeasurementReason(TextChoices):
    SAMPLE = "sample"
    SUSPECT = "suspect"
    ROUTINE = "routine"
    NEW = "new"


class BatchOf(TextChoices):
    """What is known of the cables of a batch."""

    NEW = "new"
    LOOSE = "from a box"


class SizeRule(TextChoices):
    """Where the size of a sample comes from."""

    FINITE = "this pool"
    SUCCESS_RUN = "success run"
    TYPED = "typed"


class Stratum(TextChoices):
    """Mats by the age of their oldest cable."""

    UNDER_1 = "under 1 year"
    FROM_1 = "1 to 2 years"
    FROM_2 = "2 to 3 years"
    FROM_3 = "3 years and more"
    UNKNOWN = "not known"


class OrderState(TextChoices):
    """What became of a work order, as of a day."""

    OPEN = "open"
    BEGUN = "begun"
    SIGNED = "signed off"
    OUT_OF_DATE = "out of date"
    RENEWED = "renewed"
    WITHDRAWN = "withdrawn"


IN_FORCE = (OrderState.OPEN, OrderState.BEGUN)
# of which it can be told what was done; somebody may have worked by one that is out of date
TELLABLE = (*IN_FORCE, OrderState.OUT_OF_DATE)


class Stage(TextChoices):
    """How far an assessment of the whole pool is."""

    WAITING = "waiting"
    READING = "reading"
    WRITING = "writing"
    DONE = "done"
    FAILED = "failed"


class SetOn(TextChoices):
    """The page that asks for a setting. Only those of the limits say what is due."""

    LIMITS = "limits"
    WORK_DAYS = "work days"
    COSTS = "costs"


@dataclass(frozen=True)
class Setting:
    """One policy value: its default and where that comes from, its range, and who may override it beside the pool.

    `default` None: nobody can know it but the keeper, and nothing stands for it until they say it. `off_at_zero`: a
    limit that 0 switches off, whatever its range. `explained`: what a page says beside its field. `is_money`: in the
    pool's own currency, which nobody has to name.
    """

    name: str
    label: str
    unit: str
    default: float | None
    lowest: float
    highest: float
    basis: str = ""
    whole: bool = False
    per_design: bool = False
    per_depot: bool = False
    per_pool: bool = True
    yes_no: bool = False
    per_position: bool = False
    off_at_zero: bool = False
    explained: str = ""
    set_on: SetOn = SetOn.LIMITS
    is_money: bool = False


# Defaults: 3 years and 3 dB are common practice, no source; 150 events is ours.
SETTINGS = {
    setting.name: setting
    for setting in (
        Setting(
            "age_limit_years",
            "Age limit",
            "years",
            3,
            1 / 12,
            40,
            "common practice for weekly use",
            per_design=True,
            per_position=True,
            off_at_zero=True,
            explained="Years and months, such as 2 years 6 months. Write “no limit” to switch it off.",
        ),
        Setting(
            "event_limit",
            "Event limit",
            "events",
            150,
            1,
            100_000,
            "our choice: three years of 50 weekends",
            whole=True,
            per_design=True,
            per_position=True,
            off_at_zero=True,
            explained="Write “no limit” to switch it off.",
        ),
        Setting(
            "loss_limit_db",
            "Loss limit",
            "dB",
            3.0,
            0.1,
            20,
            "common practice: half of the power arrives",
            per_design=True,
        ),
        Setting("accepted_risk", "Accepted risk per cable", "", 0.05, 0.0001, 0.5, "our choice", per_design=True),
        Setting("look_ahead_days", "Look-ahead", "days", 90, 0, 3660, "our choice", whole=True),
        Setting("reference_mhz", "Reference frequency", "MHz", 900, 860, 960, "our choice"),
        Setting(
            "reading_uncertainty_db",
            "Standard uncertainty of a reading",
            "dB",
            0.15,
            0.001,
            5,
            "our guess, where its instrument says nothing",
        ),
        Setting(
            "measure_again_months",
            "Measure again after",
            "months",
            12,
            1,
            480,
            "our choice",
            whole=True,
            per_design=True,
        ),
        Setting(
            "own_readings_decide",
            "Own readings decide",
            "",
            0,
            0,
            1,
            "our choice: off until the keeper trusts the bench",
            whole=True,
            yes_no=True,
            per_design=True,
            explained="Yes: age and event limits do not hold for a cable whose own readings say how worn it is. "
            "Its newest reading must be sure, within the loss limit and not too old, and its readings must show how "
            "its loss rises. When that reading is too old, the cable is to be measured again.",
        ),
        Setting("wear_by_events", "Wear follows", "", 0, 0, 1, whole=True, yes_no=True),
        Setting("has_bench", "Has a bench", "", 1, 0, 1, whole=True, per_depot=True, yes_no=True),
    )
}
# how many cables can be changed on the table, Monday first: our guess, for nobody can know it but the keeper
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
CABLES_ON = tuple(
    Setting(
        f"cables_on_{weekday.lower()}",
        f"Cables to change on a {weekday}",
        "cables",
        8 if weekday not in ("Saturday", "Sunday") else 0,
        0,
        500,
        "our guess",
        whole=True,
        per_depot=True,
        set_on=SetOn.WORK_DAYS,
    )
    for weekday in WEEKDAYS
)
SETTINGS |= {setting.name: setting for setting in CABLES_ON}
# what a limit is called, by the clock that it counts
LIMIT_NAME = {Clock.YEARS: "age_limit_years", Clock.EVENTS: "event_limit"}
# what a change costs beside the cable, and what an event costs at which a mat has a cable over
COSTS = (
    Setting("minutes_per_change", "Work to change a cable", "minutes", None, 0, 1440, set_on=SetOn.COSTS),
    Setting(
        "minutes_per_mat",
        "Work to open a mat and close it again",
        "minutes",
        None,
        0,
        1440,
        set_on=SetOn.COSTS,
        explained="Once for all cables that are changed in it.",
    ),
    Setting(
        "hour_price",
        "Price of an hour of work",
        "",
        None,
        0,
        1_000_000,
        set_on=SetOn.COSTS,
        is_money=True,
        explained="Write 0 if it costs you nothing.",
    ),
    Setting(
        "event_cost_low",
        "An event with a cable over costs at least",
        "",
        None,
        0,
        99_999_999,
        set_on=SetOn.COSTS,
        is_money=True,
        explained="Reads that are missed because one cable of a mat is over, and what you owe for them.",
    ),
    Setting(
        "event_cost_high",
        "An event with a cable over costs at most",
        "",
        None,
        0,
        99_999_999,
        set_on=SetOn.COSTS,
        is_money=True,
        explained="Nobody knows it exactly: both ends are carried through to the answers.",
    ),
)
SETTINGS |= {setting.name: setting for setting in COSTS}
