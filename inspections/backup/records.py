"""What a pool holds, counted by kind and said in words, whichever database it lies in."""

from dataclasses import dataclass
from datetime import date

from django.apps import apps
from django.contrib.auth.models import User
from django.db import connection
from django.db.models import Max
from django.utils import timezone

from fleet.choices import UsageState
from fleet.models import (
    AccountChange,
    CableSegment,
    CableType,
    CalendarFeed,
    Depot,
    Event,
    LogLink,
    Mat,
    MatDesign,
    Pool,
    Price,
    Session,
    SignInCount,
    SignInTry,
    Submission,
    UsageEvent,
)

from ..models import (
    Assessment,
    AssessmentRun,
    BenchDay,
    Digest,
    Instrument,
    MatRecord,
    Measurement,
    PolicyValue,
    PoolState,
    PoolTrend,
    Sample,
    Sweep,
    WorkOrder,
)

RECORDS = {
    "mats": Mat,
    "cable segments": CableSegment,
    "events": Event,
    "readings": Measurement,
    "kept sweeps": Sweep,
    "work orders": WorkOrder,
    "mat records": MatRecord,
    "accounts": User,
    "mat designs": MatDesign,
    "cable types": CableType,
    "prices": Price,
    "depots": Depot,
    "instruments": Instrument,
    "policy values": PolicyValue,
    "samples": Sample,
}
OTHER = "other records"
# accounts, and what tells of them
ACCOUNTS = (User, AccountChange, CalendarFeed, LogLink)
# made again by themselves, or of use for a moment: nobody misses them
NO_RECORDS = (
    *(Assessment, AssessmentRun, BenchDay, PoolTrend, PoolState),
    *(Pool, Session, SignInCount, SignInTry, Submission, Digest),
)


@dataclass(frozen=True)
class Held:
    """What a pool holds in short, by which its keeper knows how far a copy of it goes.

    `records` counts everything but accounts and what tells of them. `last_logged_on` is the day on which somebody last
    said, or corrected, that a mat went to an event; None where nobody has.
    """

    mats: int
    records: int
    last_logged_on: date | None

    @classmethod
    def read(cls, stated):
        """From the `written` of one; ValueError when it is none."""
        match stated:
            case {"mats": int(mats), "records": int(records), "last_logged_on": None | str() as day}:
                return cls(mats, records, day if day is None else date.fromisoformat(day))
        raise ValueError("not what a pool holds")

    @property
    def is_empty(self):
        return self.records == 0

    def written(self):
        day = self.last_logged_on
        return {"mats": self.mats, "records": self.records, "last_logged_on": day and day.isoformat()}


def held_now():
    """What the pool in use holds, of which the tables are those of this version."""
    rows = rows_in_use()
    of_accounts = sum(rows.get(model._meta.db_table, 0) for model in ACCOUNTS)
    return Held(rows.get(Mat._meta.db_table, 0), sum(rows.values()) - of_accounts, _last_logged_on())


def _last_logged_on():
    went = {"state": UsageState.WENT}
    first = UsageEvent.objects.filter(**went).aggregate(at=Max("recorded_at"))["at"]
    corrected = UsageEvent.history.filter(**went).aggregate(at=Max("history_date"))["at"]
    moments = [moment for moment in (first, corrected) if moment]
    return timezone.localtime(max(moments)).date() if moments else None


def rows_in_use():
    """{table: how many rows} of the app's own tables in the database in use, which may be an older version's."""
    with connection.cursor() as cursor:
        held = connection.introspection.table_names(cursor)
        return {name: _rows(cursor, name) for name in held if name in _own_tables()}


def _own_tables():
    models = [model for app in ("fleet", "inspections") for model in apps.get_app_config(app).get_models()]
    return {model._meta.db_table for model in [*models, User] if model not in NO_RECORDS}


def _rows(cursor, table):
    cursor.execute(f"SELECT COUNT(*) FROM {connection.ops.quote_name(table)}")
    return cursor.fetchone()[0]


def counted_records(rows):
    """{words: how many} of {table: rows}, without what there is none of.

    Records of other kinds go with those named here; they are counted only where there is none of these.
    """
    counts = {words: rows.get(model._meta.db_table, 0) for words, model in RECORDS.items()}
    named = {words: count for words, count in counts.items() if count}
    other = sum(count for table, count in rows.items() if table in _own_tables())
    return named or ({OTHER: other} if other else {})


def listed_records(counts):
    """`2 mats, 1 event`."""
    return ", ".join(f"{count:,} {words if count > 1 else words.removesuffix('s')}" for words, count in counts.items())
