import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inspections.project.settings")
django.setup()

from inspections.management.serving import make_application  # noqa: E402 it needs the apps

application = make_application()
