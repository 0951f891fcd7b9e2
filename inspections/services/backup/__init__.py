"""The whole pool in one file and back: database, raw files and uploads.

The secret key stays out. Whoever holds it can forge sign-ins, and a back-up travels on sticks and shared disks; the
place restored to has its own, so all that is lost without it is that everybody signs in again. Collected static files
stay out because they are made from the program, the copies beside the database because they are back-ups themselves.
"""

from ...backup.daily import copy_when_due, make_daily_copy
from ...backup.making import make_backup, note_backup
from ...backup.restoring import restore_backup

__all__ = ["copy_when_due", "make_backup", "make_daily_copy", "note_backup", "restore_backup"]
