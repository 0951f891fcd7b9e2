"""The copies that lie beside the database, and how old the newest is."""

import contextlib
from datetime import date

from django.conf import settings

DAILY = "daily-"
# The day of the last back-up that went elsewhere, for the first page.
NOTE = "backed-up-on.txt"


def copies_folder():
    return settings.DATA_DIR / "copies"


def daily_copy_of(day):
    """Where the copy of that day lies, or would lie."""
    return copies_folder() / f"{DAILY}{day.isoformat()}.zip"


def daily_copies():
    """All daily copies, oldest first."""
    return sorted(copies_folder().glob(f"{DAILY}*.zip"))


def newest_copy(on):
    """Age in days of the newest daily copy or back-up; None before the first."""
    days = [path.stem.removeprefix(DAILY) for path in daily_copies()]
    with contextlib.suppress(OSError):
        days.append((copies_folder() / NOTE).read_text(encoding="ascii").strip())
    ages = [(on - day).days for day in map(_day, days) if day]
    return max(0, min(ages)) if ages else None


def _day(text):
    with contextlib.suppress(ValueError):
        return date.fromisoformat(text)
