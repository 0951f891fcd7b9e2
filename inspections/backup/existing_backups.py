"""The back-ups beside the database, by the day in their names."""

import contextlib
from datetime import date

from ..data_folder import COPIES, own_folder

DAILY = "daily-"


def backups_folder():
    return own_folder(COPIES)


def daily_backup_of(day):
    """The path of that day's back-up, made or not."""
    return backups_folder() / f"{DAILY}{day.isoformat()}.zip"


def daily_backups():
    """All daily back-ups, oldest first."""
    return sorted(backups_folder().glob(f"{DAILY}*.zip"))


def daily_backups_by(day):
    """(those dated up to that day, those dated after it), oldest first: a clock that was wrong dates copies ahead."""
    dated = [(day_of(path), path) for path in daily_backups()]
    past = [path for made_on, path in dated if made_on and made_on <= day]
    return past, [path for made_on, path in dated if made_on and made_on > day]


def day_of(path):
    """The day in the name of a daily back-up; None where the name has none."""
    return parsed_day(path.stem.removeprefix(DAILY))


def parsed_day(text):
    with contextlib.suppress(ValueError):
        return date.fromisoformat(text)
