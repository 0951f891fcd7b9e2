"""For a server of one's own: what the commands see to as they start is seen to here."""

import contextlib
import logging
import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
django.setup()

from django.db import DatabaseError, connection  # noqa: E402 they need the apps

from inspections.backup.database_startup import hold_open  # noqa: E402
from inspections.management.demo_accounts import switch_off_if_reached  # noqa: E402
from inspections.management.serving import make_application  # noqa: E402
from inspections.owner_only import close_files  # noqa: E402

log = logging.getLogger(__name__)
for sentence in close_files():
    log.warning(sentence)
# its tables may not be there yet: then nobody has an account
with contextlib.suppress(DatabaseError):
    switch_off_if_reached(log.warning)
# a server that forks must not share it
connection.close()

application = make_application()
held = hold_open()
