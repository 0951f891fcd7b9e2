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


def daily_backups_by(day):
    """(those dated up to that day, those dated after it), oldest first: a clock that was wrong dates copies ahead."""
    dated = [(day_of(path), path) for path in daily_backups()]
    past = [path for made_on, path in dated if made_on and made_on <= day]
    return past, [path for made_on, path in dated if made_on and made_on > day]


def day_of(path):
    """The day in the name of a daily back-up; None where the name has none."""
    return _day(path.stem.removeprefix(DAILY))


def newest_backup_age_days(on):
    """Age in days of the newest back-up, daily or other, that is not dated ahead; None where there is none."""
    return min(((on - day).days for day in _days() if day <= on), default=None)


def newest_backup_ahead(on):
    """The last day after `on` that a back-up is dated; None as it should be. Then the clock was wrong, or is."""
    return max((day for day in _days() if day > on), default=None)


def _days():
    """The days of all back-ups that were made, daily or other."""
    days = [day_of(path) for path in daily_backups()]
    # what anybody wrote into the note is no day, whatever its bytes are
    with contextlib.suppress(OSError, UnicodeDecodeError):
        days.append(_day((backups_folder() / NOTE).read_text(encoding="ascii").strip()))
    return [day for day in days if day]


def _day(text):
    with contextlib.suppress(ValueError):
        return date.fromisoformat(text)
