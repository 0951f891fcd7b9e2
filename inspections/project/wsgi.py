import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
django.setup()

from inspections.backup.database_startup import hold_open  # noqa: E402 they need the apps
from inspections.management.serving import make_application  # noqa: E402

application = make_application()
held = hold_open()
