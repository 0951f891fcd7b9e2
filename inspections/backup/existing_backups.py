"""The copies that lie beside the database, and how old the newest is."""

import contextlib
from datetime import date

from django.conf import settings

DAILY = "daily-"
# The day of the last back-up that went elsewhere, for the first page.
NOTE = "backed-up-on.txt"


def backups_folder():
    return settings.DATA_DIR / "copies"


def daily_backup_of(day):
    """Where the copy of that day lies, or would lie."""
    return backups_folder() / f"{DAILY}{day.isoformat()}.zip"


def daily_backups():
    """All daily copies, oldest first."""
    return sorted(backups_folder().glob(f"{DAILY}*.zip"))


def newest_backup(on):
    """Age in days of the newest daily copy or back-up; None before the first."""
    days = [path.stem.removeprefix(DAILY) for path in daily_backups()]
    with contextlib.suppress(OSError):
        days.append((backups_folder() / NOTE).read_text(encoding="ascii").strip())
    ages = [(on - day).days for day in map(_day, days) if day]
    return max(0, min(ages)) if ages else None


def _day(text):
    with contextlib.suppress(ValueError):
        return date.fromisoformat(text)
