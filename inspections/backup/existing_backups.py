"""The back-ups beside the database, and how old the newest is."""

import contextlib
from datetime import date

from ..data_folder import COPIES, own_folder

DAILY = "daily-"
# The day of the last back-up that went elsewhere, for the first page.
NOTE = "backed-up-on.txt"


def backups_folder():
    return own_folder(COPIES)


def daily_backup_of(day):
    """The path of that day's back-up, made or not."""
    return backups_folder() / f"{DAILY}{day.isoformat()}.zip"


def daily_backups():
    """All daily back-ups, oldest first."""
    return sorted(backups_folder().glob(f"{DAILY}*.zip"))


def newest_backup_age_days(on):
    """Age in days of the newest back-up, daily or other; None before the first."""
    days = [path.stem.removeprefix(DAILY) for path in daily_backups()]
    with contextlib.suppress(OSError):
        days.append((backups_folder() / NOTE).read_text(encoding="ascii").strip())
    ages = [(on - day).days for day in map(_day, days) if day]
    return max(0, min(ages)) if ages else None


def _day(text):
    with contextlib.suppress(ValueError):
        return date.fromisoformat(text)
